// The sheet in the easel's place: equal pictures in a grid, outliers marked by their left-over.
#pragma once

#include <set>

#include <QtWidgets/QWidget>

#include "window/model/sheet.h"
#include "window/view/thumbs.h"

namespace samelight::window {

class SheetView : public QWidget {
  Q_OBJECT
 public:
  // `thumbs` stand in until the pictures are made.
  SheetView(Sheet* sheet, Hand* hand, Thumbs* thumbs, QWidget* parent = nullptr);
  QRectF CellBox(int row) const;  // of the picture
  const std::set<int>& chosen() const { return chosen_; }

 signals:
  void closed();
  void taken(PhotoId frame);
  void chosenChanged(std::vector<PhotoId> frames);

 protected:
  void paintEvent(QPaintEvent*) override;
  void resizeEvent(QResizeEvent*) override;
  void showEvent(QShowEvent*) override;
  void hideEvent(QHideEvent*) override;
  void wheelEvent(QWheelEvent*) override;
  void mousePressEvent(QMouseEvent*) override;
  void mouseDoubleClickEvent(QMouseEvent*) override;
  void keyPressEvent(QKeyEvent*) override;
  void focusInEvent(QFocusEvent*) override { update(); }
  void focusOutEvent(QFocusEvent*) override { update(); }

 private:
  void Arrange();
  void Take(int row);
  void Choose(int from, int to, bool toggle);  // adds them, or turns each over
  int CellAt(const QPointF& at) const;

  Sheet* sheet_;
  Hand* hand_;
  Thumbs* thumbs_;
  int columns_ = 1;
  double cell_w_ = 100, cell_h_ = 67, scroll_ = 0;
  std::set<int> chosen_;
};

}  // namespace samelight::window
