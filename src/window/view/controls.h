// Our few controls, drawn by the tokens of theme.h.
#pragma once

#include <QtGui/QWheelEvent>
#include <QtWidgets/QAbstractButton>
#include <QtWidgets/QCheckBox>
#include <QtWidgets/QComboBox>

namespace samelight::window {

// A push button with, at wish, the key that does the same written smaller beside its word.
class Button : public QAbstractButton {
  Q_OBJECT
 public:
  enum class Look { kOutline, kStrong, kQuiet };
  Button(const QString& word, const QString& key, Look look, QWidget* parent = nullptr);
  QSize sizeHint() const override;
  void SetKeyShown(bool shown);
  void SetMenuMark(bool on) { menu_mark_ = on; }
  void SetOnEasel(bool on) { on_easel_ = on; }  // a lighter ground: small words are white

 protected:
  void paintEvent(QPaintEvent*) override;
  bool event(QEvent* e) override;

 private:
  QString key_;
  Look look_;
  bool key_shown_ = true, menu_mark_ = false, on_easel_ = false;
};

// A count with its word: "14 to check". Checkable: what the next key walks through.
class Count : public QAbstractButton {
  Q_OBJECT
 public:
  Count(const QString& word, bool accent, QWidget* parent = nullptr);
  void SetCount(int count);
  void SetTight(bool tight);
  QSize sizeHint() const override;

 protected:
  void paintEvent(QPaintEvent*) override;
  bool event(QEvent* e) override;

 private:
  QString word_;
  int count_ = 0;
  bool accent_, tight_ = false;
};

// A box with a tick, and its word.
class Check : public QCheckBox {
 public:
  using QCheckBox::QCheckBox;

 protected:
  void paintEvent(QPaintEvent*) override;
};

// One of several, with the mark of a menu.
class Pick : public QComboBox {
 public:
  using QComboBox::QComboBox;

 protected:
  void paintEvent(QPaintEvent*) override;
  void wheelEvent(QWheelEvent* e) override { e->ignore(); }  // the slip under it scrolls
};

// Grows the label's size to what it says: a line of text in one of the theme's fonts.
class Label : public QWidget {
 public:
  Label(const QString& text, int px, bool strong, const QColor& colour, QWidget* parent = nullptr);
  void SetText(const QString& text);
  const QString& text() const { return text_; }
  QSize sizeHint() const override;
  int heightForWidth(int width) const override;

 protected:
  void paintEvent(QPaintEvent*) override;

 private:
  QString text_;
  int px_;
  bool strong_;
  QColor colour_;
};

}  // namespace samelight::window
