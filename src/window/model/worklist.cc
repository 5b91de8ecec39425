#include "window/model/worklist.h"

#include <algorithm>

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

// Why a scan has no frame, in plain words.
const char* WhyLoose(const job::ScanRow& row) {
  if (row.pair.by_person) return "you said that no frame goes with it";
  return record::IsUndecided(row.pair) ? "no frame is sure enough to go with it"
                                       : "no frame shows its moment";
}

}  // namespace

QString ReasonKind(const record::Flag& reason) {
  return QString::fromStdString(reason.brief.empty() ? reason.text : reason.brief);
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
  const PhotoId photo = PhotoOf(rows_[index.row()]);
  const job::FrameRow* frame = book->Frame(photo);
  const job::ScanRow* scan = book->Scan(photo);
  if (!frame && !scan) return {};
  switch (role) {
    case Qt::DisplayRole: {
      const Words words = WordsOf(photo);
      return QString(words.subject + QStringLiteral("  ") + words.reason);
    }
    case kPhoto:
      return static_cast<qint64>(photo.value);
    case kName:
      return QString::fromStdString(frame ? frame->name : scan->name);
    case kReasons: {
      if (scan) return QStringList{QString::fromUtf8(WhyLoose(*scan))};
      QStringList reasons;
      for (const record::Flag& reason : frame->reasons) reasons += QString::fromStdString(reason.text);
      return reasons;
    }
    case kState:
      return static_cast<int>(frame ? frame->state : job::FrameState::kUnpaired);
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
                   [&](const record::Flag& reason) { return ReasonKind(reason) == filter_.reason; }))
    return false;
  return true;
}

bool Worklist::Passes(const job::ScanRow& row) const {
  if (row.pair.kind != record::PairKind::kNone || !filter_.source.isEmpty()) return false;
  if (filter_.light && row.light != *filter_.light) return false;
  if (filter_.roll && row.roll != *filter_.roll) return false;
  return filter_.reason.isEmpty() || filter_.reason == QString::fromUtf8(WhyLoose(row));
}

PhotoId Worklist::PhotoOf(const Row& row) const {
  const std::shared_ptr<const job::Book> book = link_->book();
  const std::size_t at = static_cast<std::size_t>(row.index);
  if (row.scan) return at < book->scans.size() ? book->scans[at].photo.id : PhotoId{};
  return at < book->frames.size() ? book->frames[at].photo.id : PhotoId{};
}

void Worklist::Rebuild() {
  const std::shared_ptr<const job::Book> book = link_->book();
  beginResetModel();
  rows_.clear();
  for (std::size_t i = 0; i < book->frames.size(); ++i)
    if (Passes(book->frames[i], *book)) rows_.push_back({false, static_cast<int>(i)});
  if (filter_.which == WorklistFilter::Which::kUnpaired)
    for (const bool undecided : {true, false})
      for (std::size_t i = 0; i < book->scans.size(); ++i)
        if (record::IsUndecided(book->scans[i].pair) == undecided && Passes(book->scans[i]))
          rows_.push_back({true, static_cast<int>(i)});
  endResetModel();
  emit countsChanged();
}

void Worklist::SetFilter(const WorklistFilter& filter) {
  if (filter == filter_) return;
  filter_ = filter;
  Rebuild();
}

PhotoId Worklist::Walk(PhotoId from, int by) const {
  const int count = static_cast<int>(rows_.size());
  if (count == 0) return {};
  const int frame = link_->book()->FrameIndex(from);
  // Where it is among them, or before which it would be.
  int at = 0;
  while (at < count && PhotoOf(rows_[at]) != from) ++at;
  const bool here = at < count;
  if (!here) {
    at = 0;
    if (frame >= 0)
      while (at < count && !rows_[at].scan && rows_[at].index < frame) ++at;
  }
  at = by > 0 ? at + (here ? 1 : 0) : at - 1;
  const PhotoId found = PhotoOf(rows_[(at + count) % count]);
  return found == from ? PhotoId{} : found;
}

Worklist::Words Worklist::WordsOf(PhotoId photo) const {
  Words words;
  const std::shared_ptr<const job::Book> book = link_->book();
  if (const job::ScanRow* scan = book->Scan(photo)) {
    words.subject = tr("Scan %1").arg(QString::fromStdString(scan->name));
    if (scan->pair.kind != record::PairKind::kNone) return words;
    words.reason = Sentence(WhyLoose(*scan));
    words.beside = !scan->seen.empty()               ? Sentence(scan->seen.front())
                   : record::IsUndecided(scan->pair) ? tr("A shows those that come nearest.")
                                                     : tr("Drag its loose end to a frame to tie it.");
    return words;
  }
  const job::FrameRow* row = book->Frame(photo);
  if (!row) return words;
  words.subject = tr("Frame %1").arg(QString::fromStdString(row->name));
  if (row->state == job::FrameState::kSettled) {
    words.reason = row->by_person ? tr("Settled by you.") : tr("Nothing speaks against it.");
    if (!row->reasons.empty()) words.beside = Sentence(row->reasons.front().text);
    return words;
  }
  if (row->reasons.empty()) {
    words.reason = row->solved ? tr("No film saw its light.") : tr("Not matched yet.");
    return words;
  }
  words.reason = Sentence(row->reasons.front().text);
  if (row->reasons.size() > 1) {
    words.beside =
        tr("%n more reason(s): ", nullptr, static_cast<int>(row->reasons.size()) - 1)
            .replace(QStringLiteral("(s)"), row->reasons.size() > 2 ? QStringLiteral("s") : QString()) +
        QString::fromStdString(row->reasons[1].text) + QLatin1Char('.');
    return words;
  }
  // How the neighbours of its light do, when it stands out.
  std::vector<double> others;
  for (const job::FrameRow& other : book->frames)
    if (other.light == row->light && other.photo.id != photo && other.worst > 0)
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
  const std::shared_ptr<const job::Book> book = link_->book();
  for (const job::FrameRow& row : book->frames)
    if (row.state == job::FrameState::kToCheck)
      for (const record::Flag& reason : row.reasons) found.insert(ReasonKind(reason));
  if (filter_.which == WorklistFilter::Which::kUnpaired)
    for (const job::ScanRow& row : book->scans)
      if (row.pair.kind == record::PairKind::kNone) found.insert(QString::fromUtf8(WhyLoose(row)));
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
