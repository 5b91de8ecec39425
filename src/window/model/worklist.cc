#include "window/model/worklist.h"

#include <algorithm>

#include <QtCore/QRegularExpression>
#include <QtCore/QSet>

namespace samelight::window {
namespace {

QString Sentence(const std::string& words) {
  QString text = QString::fromStdString(words);
  if (text.isEmpty()) return text;
  text[0] = text[0].toUpper();
  if (!text.endsWith(QLatin1Char('.'))) text += QLatin1Char('.');
  return text;
}

}  // namespace

QString ReasonKind(const std::string& reason) {
  QString text = QString::fromStdString(reason);
  static const QRegularExpression tail(
      QStringLiteral("( than in its scan)? by [0-9].*$|:.*$|,.*$| of [0-9].*$"));
  text.remove(tail);
  static const QRegularExpression degree(QStringLiteral("\\ba (little|bit) "));
  text.remove(degree);
  return text.trimmed();
}

Worklist::Worklist(DeskLink* link, QObject* parent) : QAbstractListModel(parent), link_(link) {
  connect(link, &DeskLink::opened, this, [this] {
    SetFilter({});
    Rebuild();
  });
  connect(link, &DeskLink::bookChanged, this, &Worklist::Rebuild);
  connect(link, &DeskLink::framesChanged, this, &Worklist::Rebuild);
  Rebuild();
}

int Worklist::rowCount(const QModelIndex& parent) const {
  return parent.isValid() ? 0 : static_cast<int>(rows_.size());
}

QVariant Worklist::data(const QModelIndex& index, int role) const {
  if (!checkIndex(index, CheckIndexOption::IndexIsValid)) return {};
  const std::shared_ptr<const job::Book> book = link_->book();
  const std::size_t at = static_cast<std::size_t>(rows_[index.row()]);
  if (at >= book->frames.size()) return {};
  const job::FrameRow& row = book->frames[at];
  switch (role) {
    case Qt::DisplayRole: {
      const Words words = WordsOf(row.photo.id);
      return QString(words.subject + QStringLiteral("  ") + words.reason);
    }
    case kPhoto:
      return static_cast<qint64>(row.photo.id.value);
    case kName:
      return QString::fromStdString(row.name);
    case kReasons: {
      QStringList reasons;
      for (const std::string& reason : row.reasons) reasons += QString::fromStdString(reason);
      return reasons;
    }
    case kState:
      return static_cast<int>(row.state);
    default:
      return {};
  }
}

QHash<int, QByteArray> Worklist::roleNames() const {
  return {{Qt::DisplayRole, "display"},
          {kPhoto, "photo"},
          {kName, "name"},
          {kReasons, "reasons"},
          {kState, "state"}};
}

bool Worklist::Passes(const job::FrameRow& row, const job::Book& book) const {
  switch (filter_.which) {
    case WorklistFilter::Which::kToCheck:
      if (row.state != job::FrameState::kToCheck) return false;
      break;
    case WorklistFilter::Which::kSettled:
      if (row.state != job::FrameState::kSettled) return false;
      break;
    case WorklistFilter::Which::kUnpaired:
      if (row.state != job::FrameState::kUnpaired) return false;
      break;
    case WorklistFilter::Which::kAll:
      break;
  }
  if (filter_.light && row.light != *filter_.light) return false;
  if (filter_.roll) {
    const job::ScanRow* scan = book.Scan(row.scan);
    if (!scan || scan->roll != *filter_.roll) return false;
  }
  if (!filter_.source.isEmpty() && QString::fromStdString(record::SourceName(row.photo)) != filter_.source)
    return false;
  if (!filter_.reason.isEmpty() &&
      std::none_of(row.reasons.begin(), row.reasons.end(),
                   [&](const std::string& reason) { return ReasonKind(reason) == filter_.reason; }))
    return false;
  return true;
}

void Worklist::Rebuild() {
  const std::shared_ptr<const job::Book> book = link_->book();
  beginResetModel();
  rows_.clear();
  for (std::size_t i = 0; i < book->frames.size(); ++i)
    if (Passes(book->frames[i], *book)) rows_.push_back(static_cast<int>(i));
  endResetModel();
  emit countsChanged();
}

void Worklist::SetFilter(const WorklistFilter& filter) {
  if (filter == filter_) return;
  filter_ = filter;
  Rebuild();
}

PhotoId Worklist::Walk(PhotoId from, int by) const {
  if (rows_.empty()) return {};
  const std::shared_ptr<const job::Book> book = link_->book();
  const int at = book->FrameIndex(from);
  auto it = std::lower_bound(rows_.begin(), rows_.end(), at);
  if (by > 0) {
    if (it != rows_.end() && *it == at) ++it;
    if (it == rows_.end()) it = rows_.begin();
  } else {
    if (it == rows_.begin()) it = rows_.end();
    --it;
  }
  const PhotoId found = book->frames[*it].photo.id;
  return found == from ? PhotoId{} : found;
}

Worklist::Words Worklist::WordsOf(PhotoId frame) const {
  Words words;
  const std::shared_ptr<const job::Book> book = link_->book();
  const job::FrameRow* row = book->Frame(frame);
  if (!row) return words;
  words.subject = tr("Frame %1").arg(QString::fromStdString(row->name));
  if (row->state == job::FrameState::kSettled) {
    words.reason = row->by_person ? tr("Settled by you.") : tr("Nothing speaks against it.");
    if (!row->reasons.empty()) words.beside = Sentence(row->reasons.front());
    return words;
  }
  if (row->reasons.empty()) {
    words.reason = row->solved ? tr("No film saw its light.") : tr("Not matched yet.");
    return words;
  }
  words.reason = Sentence(row->reasons.front());
  if (row->reasons.size() > 1) {
    words.beside =
        tr("%n more reason(s): ", nullptr, static_cast<int>(row->reasons.size()) - 1)
            .replace(QStringLiteral("(s)"), row->reasons.size() > 2 ? QStringLiteral("s") : QString()) +
        QString::fromStdString(row->reasons[1]) + QLatin1Char('.');
    return words;
  }
  // How the neighbours of its light do, when it stands out.
  std::vector<double> others;
  for (const job::FrameRow& other : book->frames)
    if (other.light == row->light && other.photo.id != frame && other.worst > 0)
      others.push_back(other.worst);
  if (row->worst > 0 && others.size() >= 3) {
    const std::size_t most = others.size() * 9 / 10;
    std::nth_element(others.begin(), others.begin() + static_cast<std::ptrdiff_t>(most), others.end());
    if (others[most] < row->worst)
      words.beside = tr("Its neighbours in this light stay below %1.").arg(others[most] + 0.05, 0, 'f', 1);
  }
  return words;
}

QStringList Worklist::Reasons() const {
  QSet<QString> found;
  for (const job::FrameRow& row : link_->book()->frames)
    if (row.state == job::FrameState::kToCheck)
      for (const std::string& reason : row.reasons) found.insert(ReasonKind(reason));
  QStringList list(found.begin(), found.end());
  list.sort();
  return list;
}

QStringList Worklist::Sources() const {
  QSet<QString> found;
  for (const job::FrameRow& row : link_->book()->frames)
    found.insert(QString::fromStdString(record::SourceName(row.photo)));
  QStringList list(found.begin(), found.end());
  list.sort();
  return list;
}

}  // namespace samelight::window
