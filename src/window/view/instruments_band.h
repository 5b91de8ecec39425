// The band of instruments: plane, tone, left-over, correction.
#pragma once

#include <QtCore/QTimer>
#include <QtWidgets/QWidget>

#include "window/model/follow_model.h"
#include "window/model/handle_model.h"
#include "window/model/left_over_model.h"
#include "window/view/correction_view.h"
#include "window/view/left_over_view.h"
#include "window/view/plane_view.h"
#include "window/view/tone_view.h"

namespace samelight::window {

class InstrumentsBand : public QWidget {
  Q_OBJECT
 public:
  InstrumentsBand(DeskLink* link, Instruments* instruments, QWidget* parent = nullptr);
  void SetBands(const theme::Bands& bands);
  PlaneView* plane() { return plane_; }
  ToneView* tone() { return tone_; }
  LeftOverView* left_over() { return left_over_; }
  CorrectionView* correction() { return correction_; }

 signals:
  void regionPointed(int row);  // of Instruments::regions(); -1: none

 protected:
  void paintEvent(QPaintEvent*) override;
  void resizeEvent(QResizeEvent*) override;

 private:
  void Arrange();
  theme::Bands bands_;
  Instruments* instruments_;
  LeftOverModel left_over_model_;
  HandleModel handle_model_;
  FollowModel follow_model_;
  PlaneView* plane_;
  ToneView* tone_;
  LeftOverView* left_over_;
  CorrectionView* correction_;
  QTimer pictures_first_;  // another frame: its instruments are painted a turn later
};

}  // namespace samelight::window
