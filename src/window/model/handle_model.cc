#include "window/model/handle_model.h"

#include <cmath>
#include <limits>
#include <optional>

#include "window/model/handle_text.h"

namespace samelight::window {
namespace {

struct Typed {
  double value = 0;
  bool relative = false;
};

// "0.42", "+0.3", "-0.3 EV", "=-2": a sign first adds, "=" sets. Decimal commas and the typographic minus are
// read too. The unit may follow.
std::optional<Typed> Read(QString text, const QString& unit) {
  text = text.trimmed();
  text.replace(QChar(0x2212), u'-').replace(u',', u'.');
  if (!unit.isEmpty() && text.endsWith(unit)) text.chop(unit.size());
  text = text.trimmed();
  Typed typed;
  if (text.startsWith(u'=')) {
    text = text.mid(1).trimmed();
  } else {
    typed.relative = text.startsWith(u'+') || text.startsWith(u'-');
  }
  bool ok = false;
  typed.value = text.toDouble(&ok);
  if (!ok || !std::isfinite(typed.value)) return std::nullopt;
  return typed;
}

}  // namespace

HandleModel::HandleModel(Instruments* instruments, QObject* parent)
    : InstrumentRows(
          instruments, [](const Instruments& all) { return all.handles().size(); }, parent) {}

int HandleModel::columnCount(const QModelIndex& parent) const { return parent.isValid() ? 0 : kColumns; }

record::Handle HandleModel::handle(int row) const {
  return instruments_->handles().at(static_cast<std::size_t>(row)).handle;
}

QVariant HandleModel::data(const QModelIndex& index, int role) const {
  if (!Holds(index)) return {};
  const job::HandleValue& value = instruments_->handles()[static_cast<std::size_t>(index.row())];
  const record::HandleFacts& facts = record::FactsOf(value.handle);
  switch (role) {
    case Qt::DisplayRole:
      switch (index.column()) {
        case kName:
          return QString::fromUtf8(facts.name);
        case kValue:
          return HandleText(value.value, facts.digits);
        case kOrigin:
          return QString::fromUtf8(job::Name(value.origin));
        case kSigma:
          return value.sigma ? QStringLiteral("\u00b1") + QString::number(*value.sigma, 'f', facts.digits)
                             : QString();
        default:
          return {};
      }
    case Qt::EditRole:
      return index.column() == kValue ? QVariant(value.value) : QVariant();
    case Qt::ToolTipRole:
    case kHelp:
      return QString::fromUtf8(facts.help);
    case Qt::AccessibleTextRole:
      return QStringLiteral("%1 %2 %3, %4")
          .arg(QString::fromUtf8(facts.name), HandleText(value.value, facts.digits),
               QString::fromUtf8(facts.unit), QString::fromUtf8(job::Name(value.origin)));
    case kNumber:
      return value.value;
    case kSolved:
      return value.solved;
    case kOfLight:
      return value.of_light;
    case kSigmaNumber:
      return value.sigma.value_or(std::numeric_limits<double>::quiet_NaN());
    case kUnit:
      return QString::fromUtf8(facts.unit);
    case kStep:
      return facts.step;
    case kDigits:
      return facts.digits;
    case kLeast:
      return value.solved + facts.least;
    case kMost:
      return value.solved + facts.most;
    case kTouched:
      return value.touch != 0;
    default:
      return {};
  }
}

QVariant HandleModel::headerData(int section, Qt::Orientation orientation, int role) const {
  if (role != Qt::DisplayRole || orientation != Qt::Horizontal) return {};
  switch (section) {
    case kName:
      return tr("handle");
    case kValue:
      return tr("value");
    case kOrigin:
      return tr("from");
    case kSigma:
      return tr("uncertainty");
    default:
      return {};
  }
}

Qt::ItemFlags HandleModel::flags(const QModelIndex& index) const {
  if (!Holds(index)) return Qt::NoItemFlags;
  const Qt::ItemFlags plain = Qt::ItemIsEnabled | Qt::ItemIsSelectable | Qt::ItemNeverHasChildren;
  return index.column() == kValue ? plain | Qt::ItemIsEditable : plain;
}

bool HandleModel::setData(const QModelIndex& index, const QVariant& value, int role) {
  if (role != Qt::EditRole || !Holds(index) || index.column() != kValue) return false;
  const job::HandleValue& now = instruments_->handles()[static_cast<std::size_t>(index.row())];
  double wished = 0;
  if (value.userType() == QMetaType::QString) {
    const std::optional<Typed> typed =
        Read(value.toString(), QString::fromUtf8(record::FactsOf(now.handle).unit));
    if (!typed) return false;
    wished = typed->relative ? now.value + typed->value : typed->value;
  } else {
    bool ok = false;
    wished = value.toDouble(&ok);
    if (!ok || !std::isfinite(wished)) return false;
  }
  Try(index.row(), wished);
  instruments_->Keep();
  return true;
}

void HandleModel::Try(int row, double value) {
  if (row < 0 || row >= rowCount()) return;
  const job::HandleValue& now = instruments_->handles()[static_cast<std::size_t>(row)];
  record::Handles touch = instruments_->touch();
  record::SetValue(touch, now.handle, value - now.solved);
  instruments_->Try(touch);
}

void HandleModel::TryStep(int row, double steps) {
  if (row < 0 || row >= rowCount()) return;
  const job::HandleValue& now = instruments_->handles()[static_cast<std::size_t>(row)];
  Try(row, now.value + steps * record::FactsOf(now.handle).step);
}

void HandleModel::Reset(int row, To to) {
  if (row < 0 || row >= rowCount()) return;
  const job::HandleValue& now = instruments_->handles()[static_cast<std::size_t>(row)];
  Try(row, to == To::kSolved ? now.solved : to == To::kLight ? now.of_light : 0);
  instruments_->Keep();
}

QHash<int, QByteArray> HandleModel::roleNames() const {
  return {{Qt::DisplayRole, "display"},
          {Qt::EditRole, "edit"},
          {kNumber, "number"},
          {kSolved, "solved"},
          {kOfLight, "ofLight"},
          {kSigmaNumber, "sigma"},
          {kUnit, "unit"},
          {kStep, "step"},
          {kDigits, "digits"},
          {kLeast, "least"},
          {kMost, "most"},
          {kTouched, "touched"},
          {kHelp, "help"}};
}

}  // namespace samelight::window
