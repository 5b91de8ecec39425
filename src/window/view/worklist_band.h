// The line on top: what is settled, what is to be checked, why this frame is, and the way on.
#pragma once

#include <QtWidgets/QWidget>

#include "window/model/hand.h"
#include "window/model/worklist.h"
#include "window/view/controls.h"
#include "window/view/theme.h"

namespace samelight::window {

class WorklistBand : public QWidget {
  Q_OBJECT
 public:
  WorklistBand(DeskLink* link, Hand* hand, Worklist* worklist, QWidget* parent = nullptr);
  void SetBands(const theme::Bands& bands);
  Button* session_button() { return session_; }
  Button* settle_button() { return settle_; }
  // A short word of the program in the place of the reason, for a moment: "Undone: skin hue of P00299".
  void Say(const QString& words);

 public slots:
  void Next();
  void Previous();
  void Settle();

 signals:
  void sessionWanted(QPoint global);
  void filterWanted(QPoint global);
  void stopWanted();
  void deliverWanted();
  void updateWanted();

 protected:
  void paintEvent(QPaintEvent*) override;
  void resizeEvent(QResizeEvent*) override;
  void mousePressEvent(QMouseEvent*) override;

 private:
  void Arrange();
  void Refresh();
  PhotoId InHand() const;  // the frame, or the scan that is alone
  void PickCount(WorklistFilter::Which which);
  QRectF ReasonBox() const;
  QString FilterText() const;

  DeskLink* link_;
  Hand* hand_;
  Worklist* worklist_;
  theme::Bands bands_;
  Count *settled_, *to_check_, *unpaired_;
  Button *filter_, *previous_, *next_, *settle_, *deliver_, *session_, *stop_, *update_;
  QString said_;
  QTimer* said_until_;
  double busy_ = -1;  // share of the job done, -1: none; above 1: unknown
  QString job_;
};

// "about 4 min left"; empty while nothing can be said.
QString TimeLeft(const std::optional<double>& seconds);

}  // namespace samelight::window
