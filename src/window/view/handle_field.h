// One handle as a field: typed, dragged, stepped by wheel and keys; its uncertainty as a faint band.
#pragma once

#include <QtCore/QTimer>
#include <QtWidgets/QWidget>

#include "window/model/handle_model.h"

class QLineEdit;

namespace samelight::window {

class HandleField : public QWidget {
  Q_OBJECT
 public:
  HandleField(HandleModel* model, Instruments* instruments, int row, QWidget* parent = nullptr);
  int row() const { return row_; }
  // The field tells once that its value moved by something else.
  void Flash();
  // Small fields carry the mark of a touch themselves.
  void SetSmall(bool small) { small_ = small; }
  void Refresh();

 signals:
  void carryWanted(int row);

 protected:
  void paintEvent(QPaintEvent*) override;
  void mousePressEvent(QMouseEvent*) override;
  void mouseMoveEvent(QMouseEvent*) override;
  void mouseReleaseEvent(QMouseEvent*) override;
  void mouseDoubleClickEvent(QMouseEvent*) override;
  void wheelEvent(QWheelEvent*) override;
  void keyPressEvent(QKeyEvent*) override;
  void keyReleaseEvent(QKeyEvent*) override;
  void contextMenuEvent(QContextMenuEvent*) override;
  void enterEvent(QEnterEvent*) override { update(); }
  void leaveEvent(QEvent*) override { update(); }
  void focusInEvent(QFocusEvent*) override { update(); }
  void focusOutEvent(QFocusEvent*) override;
  bool eventFilter(QObject* watched, QEvent* e) override;

 private:
  QModelIndex At(HandleModel::Column column) const { return model_->index(row_, column); }
  void Step(double steps);
  void EditWith(const QString& text, bool all);
  void EndEdit(bool keep);
  void KeepSoon();
  void KeepNow();

  HandleModel* model_;
  Instruments* instruments_;
  int row_;
  bool small_ = false, dragging_ = false, pressed_ = false, pending_ = false, flash_ = false;
  double press_x_ = 0, steps_done_ = 0;
  QTimer keep_, calm_;
  QLineEdit* edit_ = nullptr;
};

}  // namespace samelight::window
