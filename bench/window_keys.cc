#include "bench/window_keys.h"

#include <QtCore/QTimer>
#include <QtWidgets/QMenu>

#include "bench/window_walk.h"

namespace samelight::bench {
namespace {

namespace fs = std::filesystem;

// Tab until what is in hand is called so; false: it was not come by.
bool TabTo(WindowWalk& walk, const QString& name) {
  for (int i = 0; i < 140; ++i) {
    const QWidget* at = QApplication::focusWidget();
    if (at && at->accessibleName().startsWith(name)) return true;
    walk.Key(Qt::Key_Tab);
  }
  return false;
}

// Opens a menu by Space on what is in hand, and walks down to an entry.
bool Choose(window::MainWindow& window, WindowWalk& walk, const QString& entry) {
  bool chosen = false;
  QTimer::singleShot(60, &window, [&] {
    auto* menu = qobject_cast<QMenu*>(QApplication::activePopupWidget());
    for (int i = 0; menu && i < 40; ++i) {
      QTest::keyClick(menu, Qt::Key_Down);
      if (!menu->activeAction() || !menu->activeAction()->text().startsWith(entry)) continue;
      chosen = true;
      QTest::keyClick(menu, Qt::Key_Return);
      return;
    }
    if (menu) menu->close();
  });
  walk.Key(Qt::Key_Space);
  walk.Rest(200);
  return chosen;
}

int Files(const fs::path& folder) {
  std::error_code ec;
  int files = 0;
  for (const auto& entry : fs::directory_iterator(folder, ec)) files += entry.path().extension() == ".jpg";
  return files;
}

}  // namespace

void WalkByKeys(const std::string& film, const std::string& digital, const fs::path& work,
                const fs::path& shots, const std::function<void(bool, const char*)>& expect) {
  using window::MainWindow;
  MainWindow window({});
  window.resize(1280, 800);
  window.show();
  window.activateWindow();
  expect(QTest::qWaitForWindowActive(&window), "keys alone: the window takes keys");
  WindowWalk walk(window, shots);
  expect(TabTo(walk, QStringLiteral("Choose folders")), "keys alone: folders can be chosen");
  walk.Key(Qt::Key_Space);
  walk.Rest(200);
  const auto type = [&](const char* field, const std::string& text) {
    expect(TabTo(walk, QString::fromLatin1(field)), field);
    walk.Key(Qt::Key_A, Qt::ControlModifier);
    walk.Type(QString::fromStdString(text));
  };
  type("The lab's scans", film);
  type("The digital frames", digital);
  type("Keep the session in", (work / "keys.samelight").string());
  walk.Shot("keys-new-session");
  expect(TabTo(walk, QStringLiteral("Pair and match")), "keys alone: it can be begun");
  walk.Key(Qt::Key_Space);
  walk.Rest(500);
  expect(walk.Wait([&] { return walk.Idle() && window.link().book()->matched; }, 600000),
         "keys alone: paired and matched");
  walk.Rest(2500);

  // Look at what is to be checked, from pair to pair, and settle.
  const auto book = [&] { return window.link().book(); };
  walk.Key(Qt::Key_PageDown);
  walk.Rest(600);
  walk.Key(Qt::Key_F6, Qt::ShiftModifier);  // from the easel back to the loom
  walk.Key(Qt::Key_Home);
  for (int i = 0; i < 40 && !window.hand().own_scan(); ++i) walk.Key(Qt::Key_Right);
  walk.Rest(900);
  walk.Shot("keys-loom");
  expect(window.hand().own_scan(), "keys alone: a pair is in hand");
  const PhotoId frame = window.hand().frame();
  walk.Key(Qt::Key_A);
  walk.Rest(200);
  expect(QApplication::activePopupWidget() != nullptr, "keys alone: what else the scan could be is shown");
  if (QWidget* popup = QApplication::activePopupWidget()) QTest::keyClick(popup, Qt::Key_Escape);
  // A dot, then a handle.
  walk.Key(Qt::Key_F6);
  walk.Key(Qt::Key_F6);
  expect(QApplication::focusWidget() == window.instruments_band()->plane(),
         "keys alone: the plane is come by");
  for (int i = 0; i < 3; ++i) walk.Key(Qt::Key_Left);
  walk.Rest(500);
  expect(window.link().desk()->TouchOf(frame) != record::Handles{}, "keys alone: a dot is moved");
  walk.Shot("keys-dot");
  expect(TabTo(walk, QStringLiteral("exposure")), "keys alone: a field is come by");
  walk.Type(QStringLiteral("+0.2"));
  walk.Key(Qt::Key_Return);
  walk.Rest(300);
  expect(window.link().desk()->TouchOf(frame).exposure_ev != 0, "keys alone: a handle is typed");
  walk.Key(Qt::Key_C);
  walk.Rest(300);
  expect(TabTo(walk, QStringLiteral("to its light")), "keys alone: where to carry");
  walk.Key(Qt::Key_Space);
  walk.Shot("keys-carry");
  const bool others = book()->lights[static_cast<std::size_t>(book()->Frame(frame)->light)].frames.size() > 1;
  if (others && TabTo(walk, QStringLiteral("Carry"))) walk.Key(Qt::Key_Space);
  walk.Rest(400);
  if (window.slip()) walk.Key(Qt::Key_Escape);
  walk.Key(Qt::Key_L);
  walk.Rest(1500);
  walk.Key(Qt::Key_Right, Qt::ShiftModifier);
  walk.Rest(300);
  walk.Shot("keys-sheet");
  expect(window.loom()->selection().size() == 2, "keys alone: two are chosen on the sheet");
  walk.Key(Qt::Key_Escape);
  for (int i = 0; i < 60 && book()->to_check > 0; ++i) {
    walk.Key(Qt::Key_Return);
    walk.Rest(60);
  }
  expect(book()->to_check == 0, "keys alone: all is settled");
  walk.Rest(500);
  walk.Shot("keys-settled");

  walk.Key(Qt::Key_D, Qt::ControlModifier);
  walk.Rest(300);
  type("Into the folder", (work / "keys").string());
  walk.Shot("keys-deliver");
  expect(TabTo(walk, QStringLiteral("Deliver")), "keys alone: it can be delivered");
  walk.Key(Qt::Key_Space);
  walk.Rest(500);
  expect(walk.Wait([&] { return walk.Idle(); }, 600000), "keys alone: delivered");
  expect(Files(work / "keys") == static_cast<int>(book()->frames.size()),
         "keys alone: every frame is a file");
  walk.Rest(300);
  walk.Key(Qt::Key_F6);  // some band; the session's menu is in the first
  expect(TabTo(walk, QStringLiteral("Session")), "keys alone: the session's menu is come by");
  expect(Choose(window, walk, QStringLiteral("Proof sheet")), "keys alone: a proof sheet is asked for");
  walk.Rest(500);
  expect(walk.Wait([&] { return walk.Idle(); }, 120000) && fs::exists(work / "proof sheet.html"),
         "keys alone: the proof sheet is there");
  walk.Rest(300);
  walk.Shot("keys-proofs");
  // What can be said of the film, by keys too.
  for (const char* entry : {"Rolls and clocks", "The look of the film", "Settings"}) {
    TabTo(walk, QStringLiteral("Session"));
    expect(Choose(window, walk, QString::fromLatin1(entry)) && window.slip() != nullptr, entry);
    walk.Rest(400);
    walk.Shot(std::string("keys-") +
              QString::fromLatin1(entry).section(QLatin1Char(' '), 0, 0).toLower().toStdString());
    walk.Key(Qt::Key_Escape);
  }
  window.close();
}

}  // namespace samelight::bench
