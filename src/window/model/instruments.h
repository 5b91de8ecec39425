// What the instruments show of the frame in hand: one object that the four models read, so that a drag
// changes all of them at once.
#pragma once

#include <QtCore/QObject>
#include <optional>
#include <string>
#include <vector>

#include "window/model/desk_link.h"

namespace samelight::window {

class Instruments final : public QObject {
  Q_OBJECT
 public:
  explicit Instruments(DeskLink* link, QObject* parent = nullptr);

  PhotoId frame() const { return frame_; }
  void SetFrame(PhotoId frame);

  const std::vector<job::RegionRow>& regions() const { return regions_; }
  const job::ToneCurves& tone() const { return tone_; }
  const std::vector<job::HandleValue>& handles() const { return handles_; }
  // What is on the easel now: the standing correction, or that of the drag. Empty for an unsolved frame.
  std::optional<record::Correction> correction() const { return correction_; }

  // --- a drag: Try as often as wanted, then Keep (one step of the history) or GiveUp
  void Try(const record::Handles& touch);
  void TryFollow(std::optional<record::RegionKind> region,
                 double percent);  // given up by GiveUp(); FollowModel keeps
  // A kept state of the frame, with its share of the film; given up by GiveUp(); Desk::TakeUpState keeps.
  void TryState(const std::string& name);
  // Moves the dot of regions()[row] toward (a, b) by the fewest handles; tells which moved. Nothing moves
  // when the frame is unsolved.
  std::vector<record::Handle> TryDot(int row, double a, double b);
  void Keep();
  void GiveUp();
  bool trying() const { return trying_; }
  // The touch on the easel now.
  record::Handles touch() const;

 signals:
  void leaving();       // the frame goes out of hand: what is half said about it is to be kept now
  void frameChanged();  // another frame
  void changed();       // the same frame, other values (also during a drag)

 private:
  void Read();       // from the desk
  void ReadAgain();  // and tells if anything is different
  void Begin();      // a drag, if none is under way
  void Show();       // what follows from correction_
  DeskLink* link_;
  PhotoId frame_;
  bool trying_ = false;
  record::Handles begun_;  // the touch before the drag
  std::optional<record::Correction> correction_;
  std::vector<job::RegionRow> regions_;
  job::ToneCurves tone_;
  std::vector<job::HandleValue> standing_, handles_;  // as the desk tells them; under correction_
};

}  // namespace samelight::window
