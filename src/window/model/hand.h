// What is in hand: one frame and the scan it is judged against. Everything else in the window follows it.
#pragma once

#include <QtCore/QObject>

#include "window/model/desk_link.h"

namespace samelight::window {

class Hand final : public QObject {
  Q_OBJECT
 public:
  explicit Hand(DeskLink* link, QObject* parent = nullptr);

  PhotoId frame() const { return frame_; }  // invalid: a scan without a frame, or nothing
  PhotoId scan() const {
    return scan_;
  }  // its own, else the scan of its light that is nearest; invalid: none
  bool own_scan() const { return own_; }  // they are a pair

  void Take(PhotoId photo);  // a frame or a scan
  void TakeFrame(PhotoId frame);
  void TakeScan(PhotoId scan);
  // Settled frame of the same light, nearest in time, the earlier one first; invalid: none.
  PhotoId Neighbour() const;

 signals:
  void changed();

 private:
  void Refresh();
  DeskLink* link_;
  PhotoId frame_, scan_;
  bool own_ = false;
};

// The scan whose film a frame carries: its own, else that of the frame of its light nearest in the day's
// order. Invalid when no film saw its light.
PhotoId FollowedScan(const job::Book& book, int frame_row);

}  // namespace samelight::window
