// A slip of paper laid over the easel: asks for or tells one thing, and goes away with Esc. The window stays
// usable.
#pragma once

#include <QtWidgets/QLineEdit>
#include <QtWidgets/QVBoxLayout>
#include <QtWidgets/QWidget>

#include "window/view/controls.h"

class QScrollArea;

namespace samelight::window {

class Slip : public QWidget {
  Q_OBJECT
 public:
  Slip(const QString& title, QWidget* parent);
  // Takes the height that it needs inside `room`, its top at `wished_top` where that leaves enough.
  void PlaceIn(const QRect& room, int wished_top);

 signals:
  void closed();

 protected:
  QVBoxLayout* body() { return body_; }
  // A line of small words above what follows.
  Label* AddWords(const QString& words, const QColor& colour);
  QLineEdit* AddField(const QString& name, const QString& text);
  Button* AddButton(const QString& word, Button::Look look);
  void paintEvent(QPaintEvent*) override;
  void keyPressEvent(QKeyEvent*) override;
  bool focusNextPrevChild(bool next) override;

 private:
  QVBoxLayout* body_;
  QScrollArea* scroll_;
  QHBoxLayout* buttons_ = nullptr;
  QVBoxLayout* outer_;
};

// A path as a field with a button that chooses a folder. `many`: several, one a line of `;`.
class FolderField : public QWidget {
  Q_OBJECT
 public:
  FolderField(const QString& name, const QString& button, bool many, QWidget* parent = nullptr);
  QStringList folders() const;
  void SetFolders(const QStringList& folders);
  QLineEdit* edit() { return edit_; }

 signals:
  void changed();

 protected:
  void dragEnterEvent(QDragEnterEvent*) override;
  void dropEvent(QDropEvent*) override;

 private:
  QLineEdit* edit_;
  bool many_;
};

}  // namespace samelight::window
