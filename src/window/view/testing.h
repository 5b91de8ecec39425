// A window without a screen, and a small invented session for its tests.
#pragma once

#include <unistd.h>

#include <filesystem>
#include <string>

#include <QtCore/QLockFile>
#include <QtCore/QSettings>
#include <QtCore/QStandardPaths>
#include <QtCore/QTemporaryDir>
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
    // Of this program alone: others run beside it.
    static const QTemporaryDir settings;
    QSettings::setPath(QSettings::NativeFormat, QSettings::UserScope, settings.path());
    theme::Apply();
    theme::SetMotion(false);
    return made;
  }();
  return *app;
}

// A folder with `film`, `digital` and a matched session of two lights. Written by the first test of a build
// that needs it and shared by the others, which run as programs of their own.
inline const std::filesystem::path& SmallDay() {
  namespace fs = std::filesystem;
  static const fs::path folder = [] {
    const auto built = fs::last_write_time(fs::read_symlink("/proc/self/exe")).time_since_epoch().count();
    const fs::path kept = fs::temp_directory_path() /
                          ("samelight-window-" + std::to_string(::getuid()) + "-" + std::to_string(built));
    // Two tests that begin together do not make it twice.
    QLockFile making(QString::fromStdString(kept.string() + ".lock"));
    making.setStaleLockTime(0);  // as long as its owner lives
    making.lock();
    if (fs::exists(kept)) return kept;
    const fs::path made = fs::path(kept).concat("-" + std::to_string(::getpid()));
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
    {
      MainWindow window({});
      window.NewSession({QString::fromStdString((made / "film").string())},
                        {QString::fromStdString((made / "digital").string())},
                        QString::fromStdString((made / "session.samelight").string()));
      std::string ended;
      QObject::connect(&window.link(), &DeskLink::jobEnded, &window, [&](const job::JobEnded& end) {
        ended = end.status.ok() ? "ended" : end.status.error().Text();
      });
      if (!QTest::qWaitFor([&] { return window.link().desk() && window.link().book()->matched; }, 600000))
        qFatal("the session is not matched: %s", ended.c_str());
      window.close();
    }
    std::error_code ec;
    fs::rename(made, kept, ec);
    if (ec) qFatal("%s cannot be made", kept.c_str());
    return kept;
  }();
  return folder;
}

// Opens and waits; false when it could not be opened.
inline bool OpenNow(DeskLink& link, const std::filesystem::path& file) {
  link.Close();
  bool failed = false;
  const QMetaObject::Connection heard =
      QObject::connect(&link, &DeskLink::couldNotOpen, &link, [&] { failed = true; });
  link.OpenSoon(file);
  const bool opened = QTest::qWaitFor([&] { return failed || link.desk() != nullptr; }, 8000) && !failed;
  QObject::disconnect(heard);
  return opened;
}

// A copy of that session for this program alone.
inline std::filesystem::path MatchedSession() {
  namespace fs = std::filesystem;
  static const struct Copy {
    fs::path file = SmallDay() / ("session-" + std::to_string(::getpid()) + ".samelight");
    fs::path cache = fs::path(file).replace_extension(".cache");
    Copy() {
      fs::copy_file(SmallDay() / "session.samelight", file, fs::copy_options::overwrite_existing);
      fs::copy(SmallDay() / "session.cache", cache,
               fs::copy_options::recursive | fs::copy_options::overwrite_existing);
    }
    ~Copy() {
      std::error_code ec;
      fs::remove(file, ec);
      fs::remove_all(cache, ec);
    }
  } copy;
  return copy.file;
}

}  // namespace samelight::window
