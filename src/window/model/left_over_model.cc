#include "window/model/left_over_model.h"

#include <QtCore/QVariantList>
#include <cmath>

namespace samelight::window {
namespace {

QString Figure(double value) {
  return std::isfinite(value) ? QString::number(value, 'f', 1) : QStringLiteral("\u2013");
}

}  // namespace

LeftOverModel::LeftOverModel(Instruments* instruments, QObject* parent)
    : InstrumentRows(instruments, RegionCount, parent) {}

int LeftOverModel::columnCount(const QModelIndex& parent) const { return parent.isValid() ? 0 : kColumns; }

QVariant LeftOverModel::data(const QModelIndex& index, int role) const {
  if (!Holds(index)) return {};
  const job::RegionRow& row = instruments_->regions()[static_cast<std::size_t>(index.row())];
  switch (role) {
    case Qt::DisplayRole:
      switch (index.column()) {
        case kRegion:
          return QString::fromStdString(row.name);
        case kBefore:
          return Figure(row.before);
        case kNow:
          return Figure(row.now);
        case kWords:
          return QString::fromStdString(row.words);
        default:
          return {};
      }
    case Qt::TextAlignmentRole:
      return QVariant::fromValue(Qt::Alignment(
          Qt::AlignVCenter |
          (index.column() == kBefore || index.column() == kNow ? Qt::AlignRight : Qt::AlignLeft)));
    case Qt::AccessibleTextRole:
      // One sentence for a screen reader, whatever the column.
      return row.has_scan
                 ? QStringLiteral("%1: left-over %2, before %3, mark %4, %5")
                       .arg(QString::fromStdString(row.name), Figure(row.now), Figure(row.before),
                            Figure(row.tolerance), QString::fromStdString(row.words))
                 : QStringLiteral("%1: no scan to compare with").arg(QString::fromStdString(row.name));
    case kBeforeValue:
      return row.before;
    case kNowValue:
      return row.now;
    case kToleranceValue:
      return row.tolerance;
    case kOverMark:
      return row.has_scan && row.now > row.tolerance;
    case kSwatch:
      return QVariantList{row.lab_frame[0], row.lab_frame[1], row.lab_frame[2]};
    default:
      return {};
  }
}

QVariant LeftOverModel::headerData(int section, Qt::Orientation orientation, int role) const {
  if (role != Qt::DisplayRole || orientation != Qt::Horizontal) return {};
  switch (section) {
    case kRegion:
      return tr("region");
    case kBefore:
      return tr("before");
    case kNow:
      return tr("now");
    case kWords:
      return tr("the frame is");
    default:
      return {};
  }
}

QHash<int, QByteArray> LeftOverModel::roleNames() const {
  return {{Qt::DisplayRole, "display"}, {kBeforeValue, "before"}, {kNowValue, "now"},
          {kToleranceValue, "mark"},    {kOverMark, "over"},      {kSwatch, "swatch"}};
}

}  // namespace samelight::window
