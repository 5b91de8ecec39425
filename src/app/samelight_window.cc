// The window: samelight-window [SESSION]. Started by `samelight window`.
#include <filesystem>

#include <QtGui/QScreen>
#include <QtWidgets/QApplication>

#include "job/recent.h"
#include "window/view/main_window.h"
#include "window/view/theme.h"

int main(int argc, char** argv) {
  QApplication app(argc, argv);
  QApplication::setApplicationName(QStringLiteral("samelight"));
  QApplication::setOrganizationName(QStringLiteral("samelight"));
  QApplication::setApplicationDisplayName(QStringLiteral("Samelight"));
  samelight::window::theme::Apply();
  samelight::window::MainWindow window(samelight::job::RecentFile());
  window.resize(QSize(1600, 1000).boundedTo(window.screen()->availableSize()));
  window.show();
  const QStringList rest = QApplication::arguments().mid(1);
  if (!rest.isEmpty()) window.link().OpenSoon(std::filesystem::absolute(rest.first().toStdString()));
  return QApplication::exec();
}
