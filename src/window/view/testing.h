// A window without a screen, and a small invented session for its tests.
#pragma once

#include <unistd.h>

#include <filesystem>
#include <string>

#include <QtCore/QSettings>
#include <QtCore/QStandardPaths>
#include <QtTest/QTest>
#include <QtWidgets/QApplication>

#include "base/task_pool.h"
#include "simulate/session.h"
#include "window/view/main_window.h"
#include "window/view/theme.h"

namespace samelight::window {

// One application for all tests of a program; nothing is read from or left in the person's own settings.
inline QApplication& App() {
  static QApplication* app = [] {
    qputenv("QT_QPA_PLATFORM", "offscreen");
    QStandardPaths::setTestModeEnabled(true);
    static int argc = 1;
    static char name[] = "window_view_test";
    static char* argv[] = {name, nullptr};
    auto* made = new QApplication(argc, argv);
    QApplication::setApplicationName(QStringLiteral("samelight-test"));
    QApplication::setOrganizationName(QStringLiteral("samelight-test"));
    QSettings().clear();
    theme::Apply();
    theme::SetMotion(false);
    return made;
  }();
  return *app;
}

// A folder with `film` and `digital` of two lights, written once for all tests of a program.
inline const std::filesystem::path& SmallDay() {
  static const std::filesystem::path folder = [] {
    const std::filesystem::path made = std::filesystem::temp_directory_path() / ("samelight-window-" + std::to_string(::getpid()));
    std::filesystem::remove_all(made);
    simulate::SessionOptions options;
    options.seed = 3;
    options.frame_long_side_px = 480;
    options.lights = 2;
    options.frames = 10;
    options.scans = 5;
    options.painted = true;
    SilentProgress silent;
    const auto written = simulate::WriteSession(made, options, silent, Cancel());
    if (!written.ok()) qFatal("%s", written.error().Text().c_str());
    return made;
  }();
  return folder;
}

// A session of that day, paired and matched by the window itself, the first time it is asked for.
inline std::filesystem::path MatchedSession() {
  const std::filesystem::path file = SmallDay() / "session.samelight";
  if (!std::filesystem::exists(file)) {
    MainWindow window({});
    window.show();
    window.NewSession({QString::fromStdString((SmallDay() / "film").string())},
                      {QString::fromStdString((SmallDay() / "digital").string())}, QString::fromStdString(file.string()));
    std::string ended;
    QObject::connect(&window.link(), &DeskLink::jobEnded, &window, [&](const job::JobEnded& end) {
      ended = end.status.ok() ? "ended" : end.status.error().Text();
    });
    if (!QTest::qWaitFor([&] { return window.link().desk() && window.link().book()->matched; }, 120000))
      qFatal("the session is not matched: %s", ended.c_str());
    window.close();
  }
  return file;
}

}  // namespace samelight::window
