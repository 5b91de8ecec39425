#include "window/model/sheet.h"

#include <algorithm>

namespace samelight::window {
namespace {

constexpr int kFirstSlot = 100;  // the easel's are below

}  // namespace

Sheet::Sheet(DeskLink* link, Hand* hand, QObject* parent)
    : QAbstractListModel(parent), link_(link), hand_(hand) {
  connect(link, &DeskLink::bookChanged, this, [this] {
    if (light_ >= 0) return ShowLight(light_);
    std::vector<PhotoId> still;
    for (const PhotoId id : frames_)
      if (link_->book()->Frame(id)) still.push_back(id);
    ShowFrames(std::move(still));
  });
  connect(link, &DeskLink::opened, this, [this] {
    light_ = -1;
    ShowFrames({});
  });
  connect(link, &DeskLink::framesChanged, this, [this](const std::vector<PhotoId>& frames) {
    if (frames_.empty()) return;
    Compare();
    for (const PhotoId id : frames) {
      const int row = RowOf(id);
      if (row < 0) continue;
      if (row >= first_ && row <= last_) Ask(row);
    }
    emit dataChanged(index(0), index(static_cast<int>(frames_.size()) - 1));
  });
  connect(link, &DeskLink::pictureMade, this, [this](const job::MadePicture& made) {
    const int row = made.slot - kFirstSlot;
    if (row < 0 || row >= static_cast<int>(frames_.size()) || frames_[row] != made.photo ||
        made.shown.empty())
      return;
    pictures_[row] = made.shown;
    emit pictureCame(row);
  });
}

int Sheet::rowCount(const QModelIndex& parent) const {
  return parent.isValid() ? 0 : static_cast<int>(frames_.size());
}

QVariant Sheet::data(const QModelIndex& index, int role) const {
  if (!checkIndex(index, CheckIndexOption::IndexIsValid)) return {};
  const std::shared_ptr<const job::Book> book = link_->book();
  const job::FrameRow* row = book->Frame(frames_[index.row()]);
  if (!row) return {};
  const double left_over = row->scan.valid() ? row->worst / book->tolerance : apart_[index.row()];
  switch (role) {
    case Qt::DisplayRole:
      return QString::fromStdString(row->name);
    case kPhoto:
      return static_cast<qint64>(row->photo.id.value);
    case kLeftOver:
      return left_over;
    case kOver:
      return left_over > 1;
    case kToCheck:
      return row->state == job::FrameState::kToCheck;
    case kReason:
      return row->reasons.empty() ? QString() : QString::fromStdString(row->reasons.front().text);
    default:
      return {};
  }
}

QHash<int, QByteArray> Sheet::roleNames() const {
  return {{Qt::DisplayRole, "display"}, {kPhoto, "photo"},  {kLeftOver, "leftOver"}, {kOver, "over"},
          {kToCheck, "toCheck"},        {kReason, "reason"}};
}

void Sheet::ShowLight(int light) {
  const std::shared_ptr<const job::Book> book = link_->book();
  std::vector<PhotoId> frames;
  for (const job::FrameRow& row : book->frames)
    if (row.light == light) frames.push_back(row.photo.id);
  ShowFrames(std::move(frames));
  light_ = light;
  title_ = light >= 0 && light < static_cast<int>(book->lights.size())
               ? QString::fromStdString(book->lights[light].name)
               : tr("no light yet");
}

void Sheet::ShowFrames(std::vector<PhotoId> frames) {
  if (frames == frames_ && light_ < 0) return Compare();
  Rest();
  beginResetModel();
  light_ = -1;
  frames_ = std::move(frames);
  pictures_.assign(frames_.size(), {});
  Compare();
  title_ = tr("%1 chosen frames").arg(frames_.size());
  endResetModel();
}

void Sheet::Compare() {
  apart_ = link_->desk() ? link_->desk()->Apart(frames_) : std::vector<double>(frames_.size(), 0);
}

int Sheet::RowOf(PhotoId frame) const {
  const auto at = std::find(frames_.begin(), frames_.end(), frame);
  return at == frames_.end() ? -1 : static_cast<int>(at - frames_.begin());
}

void Sheet::Want(int first, int last, QSize cell) {
  last = std::min(last, static_cast<int>(frames_.size()) - 1);
  if (cell == cell_ && first == first_ && last == last_) return;
  for (int row = first_; row <= last_; ++row)
    if (row < first || row > last) link_->pictures().Drop(kFirstSlot + row);
  const bool other_size = cell != cell_;
  const int had_first = first_, had_last = last_;
  first_ = first;
  last_ = last;
  cell_ = cell;
  for (int row = first; row <= last; ++row)
    if (other_size || row < had_first || row > had_last || pictures_[row].empty()) Ask(row);
}

void Sheet::Rest() {
  for (int row = first_; row <= last_; ++row) link_->pictures().Drop(kFirstSlot + row);
  first_ = 0;
  last_ = -1;
}

const preview::Shown* Sheet::Picture(int row) const {
  return pictures_[row].empty() ? nullptr : &pictures_[row];
}

void Sheet::Ask(int row) {
  const job::FrameRow* frame = link_->book()->Frame(frames_[row]);
  if (!frame || cell_.isEmpty()) return;
  job::WantedPicture wanted;
  wanted.slot = kFirstSlot + row;
  wanted.photo = frames_[row];
  wanted.showing = frame->solved ? job::Showing::kCorrected : job::Showing::kOriginal;
  wanted.view =
      preview::FitView(frame->photo.width_px, frame->photo.height_px, cell_.width(), cell_.height());
  wanted.width_px = cell_.width();
  wanted.height_px = cell_.height();
  link_->pictures().Ask(wanted);
}

}  // namespace samelight::window
