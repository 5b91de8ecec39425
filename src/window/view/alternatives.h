// The frames that a scan could belong to: at a click on its ribbon, or on the loose end of an undecided one.
#pragma once

#include <vector>

#include <QtWidgets/QWidget>

#include "window/model/desk_link.h"
#include "window/view/thumbs.h"

namespace samelight::window {

class Alternatives : public QWidget {
  Q_OBJECT
 public:
  Alternatives(DeskLink* link, PhotoId scan, Thumbs* thumbs, QWidget* parent);

 signals:
  void chosen(samelight::PhotoId scan, samelight::PhotoId frame);                 // to be tied
  void refused(samelight::PhotoId scan, std::vector<samelight::PhotoId> frames);  // none of these

 protected:
  void paintEvent(QPaintEvent*) override;
  void keyPressEvent(QKeyEvent*) override;

 private:
  class Button* refuse_ = nullptr;
};

}  // namespace samelight::window
