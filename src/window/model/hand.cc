#include "window/model/hand.h"

#include <algorithm>

namespace samelight::window {

PhotoId FollowedScan(const job::Book& book, int frame_row) {
  const job::FrameRow& row = book.frames[frame_row];
  if (row.scan.valid()) return row.scan;
  if (row.light < 0 || !row.filmed) return {};
  const int count = static_cast<int>(book.frames.size());
  for (int away = 1; away < count; ++away)
    for (const int k : {frame_row - away, frame_row + away})
      if (k >= 0 && k < count && book.frames[k].light == row.light && book.frames[k].scan.valid())
        return book.frames[k].scan;
  return {};
}

Hand::Hand(DeskLink* link, QObject* parent) : QObject(parent), link_(link) {
  connect(link, &DeskLink::opened, this, [this] {
    frame_ = scan_ = {};
    own_ = false;
    Refresh();
  });
  connect(link, &DeskLink::bookChanged, this, &Hand::Refresh);
}

void Hand::Refresh() {
  const std::shared_ptr<const job::Book> book = link_->book();
  // Of several scans of a frame the one in hand stays.
  if (const job::ScanRow* scan = own_ ? book->Scan(scan_) : nullptr; scan && scan->pair.frame == frame_)
    return TakeScan(scan_);
  if (frame_.valid() && book->Frame(frame_)) return TakeFrame(frame_);
  if (!frame_.valid() && scan_.valid() && book->Scan(scan_)) return TakeScan(scan_);
  frame_ = scan_ = {};
  // The first that is to be checked, else the first.
  const auto first = std::find_if(book->frames.begin(), book->frames.end(), [](const job::FrameRow& row) {
    return row.state == job::FrameState::kToCheck;
  });
  if (first != book->frames.end()) return TakeFrame(first->photo.id);
  if (!book->frames.empty()) return TakeFrame(book->frames.front().photo.id);
  if (!book->scans.empty()) return TakeScan(book->scans.front().photo.id);
  own_ = false;
  emit changed();
}

void Hand::Take(PhotoId photo) { link_->book()->Frame(photo) ? TakeFrame(photo) : TakeScan(photo); }

void Hand::TakeFrame(PhotoId frame) {
  const std::shared_ptr<const job::Book> book = link_->book();
  const int row = book->FrameIndex(frame);
  if (row < 0) return;
  frame_ = frame;
  scan_ = FollowedScan(*book, row);
  own_ = book->frames[row].scan.valid();
  emit changed();
}

void Hand::TakeScan(PhotoId scan) {
  const std::shared_ptr<const job::Book> book = link_->book();
  const job::ScanRow* row = book->Scan(scan);
  if (!row) return;
  scan_ = scan;
  frame_ = row->pair.kind == record::PairKind::kNone ? PhotoId{} : row->pair.frame;
  own_ = frame_.valid();
  emit changed();
}

PhotoId Hand::Neighbour() const {
  const std::shared_ptr<const job::Book> book = link_->book();
  const int at = book->FrameIndex(frame_);
  if (at < 0) return {};
  const int count = static_cast<int>(book->frames.size()), light = book->frames[at].light;
  for (int away = 1; away < count; ++away)
    for (const int k : {at - away, at + away})
      if (k >= 0 && k < count && book->frames[k].light == light &&
          book->frames[k].state == job::FrameState::kSettled)
        return book->frames[k].photo.id;
  return {};
}

}  // namespace samelight::window
