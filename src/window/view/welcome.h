// What there is before a session is open: one place to drop folders, and the sessions of before.
#pragma once

#include <filesystem>
#include <vector>

#include <QtWidgets/QWidget>

#include "window/view/controls.h"

namespace samelight::window {

class Welcome : public QWidget {
  Q_OBJECT
 public:
  explicit Welcome(QWidget* parent = nullptr);
  void SetRecent(const std::vector<std::filesystem::path>& recent);

 signals:
  void newWanted();
  void openWanted();
  void recentWanted(QString file);
  void dropped(QStringList paths, bool film);

 protected:
  void paintEvent(QPaintEvent*) override;
  void resizeEvent(QResizeEvent*) override;
  void dragEnterEvent(QDragEnterEvent*) override;
  void dragMoveEvent(QDragMoveEvent*) override;
  void dragLeaveEvent(QDragLeaveEvent*) override;
  void dropEvent(QDropEvent*) override;

 private:
  QRectF Half(bool film) const;
  Button *choose_, *open_;
  std::vector<Button*> recent_;
  int over_ = -1;  // 0 scans, 1 frames
};

}  // namespace samelight::window
