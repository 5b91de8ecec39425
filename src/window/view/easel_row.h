// One word at the side of the easel, with its mark and its key: a way to look, or a zoom.
#pragma once

#include <QtWidgets/QAbstractButton>

namespace samelight::window {

class EaselRow : public QAbstractButton {
  Q_OBJECT
 public:
  enum class Mark { kNone, kSide, kWipe, kFlicker, kBefore, kHatch };
  EaselRow(const QString& word, const QString& key, Mark mark, bool right_aligned, QWidget* parent);
  QSize sizeHint() const override { return {150, 22}; }

 protected:
  void paintEvent(QPaintEvent*) override;
  bool event(QEvent* e) override;

 private:
  QString key_;
  Mark mark_;
  bool right_;
};

}  // namespace samelight::window
