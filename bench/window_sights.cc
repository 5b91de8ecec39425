// Pictures of the window for the eye, of what the tour does not pass: flicker, marks at the ends of the
// range, the delivery space, four pictures, linked places at full size, problems. Usage:
//   window_sights SESSION SHOTS_DIR [WIDTH HEIGHT [PROOF.icc]]   (QT_SCALE_FACTOR for other densities;
//   PROOF.icc: the profile of a print, for one more picture)
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <string>

#include <QtWidgets/QMenu>

#include "bench/window_walk.h"
#include "window/view/theme.h"

namespace samelight::bench {
namespace {

namespace fs = std::filesystem;

PhotoId Paired(const job::Book& book) {
  for (const job::ScanRow& scan : book.scans)
    if (scan.pair.kind == record::PairKind::kMoment) return scan.pair.frame;
  return book.frames.empty() ? PhotoId{} : book.frames.front().photo.id;
}

// The frame of which most was said to be clipped, else the first.
PhotoId Clipped(const job::Book& book) {
  for (const job::FrameRow& row : book.frames)
    for (const std::string& seen : row.seen)
      if (seen.find("clipped") != std::string::npos) return row.photo.id;
  return Paired(book);
}

int Sights(const fs::path& session, const fs::path& shots, int width, int height, const fs::path& proof) {
  fs::create_directories(shots);
  window::MainWindow window({});
  window.resize(width, height);
  window.show();
  WindowWalk walk(window, shots);
  window.link().OpenSoon(session);
  const auto came = [&] {
    for (const window::Easel::Pane& pane : window.easel().panes())
      if (!pane.box.isEmpty() && (pane.shown.empty() || pane.soft)) return false;
    return !window.easel().panes().empty();
  };
  if (!walk.Wait([&] { return window.link().desk() && came(); }, 60000)) {
    std::fprintf(stderr, "the session does not open: %s\n", session.c_str());
    return 3;
  }
  const std::shared_ptr<const job::Book> kept = window.link().book();
  const job::Book& book = *kept;
  window.easel_view()->setFocus();
  window.hand().TakeFrame(Paired(book));
  walk.Wait(came, 30000);
  walk.Rest(1500);
  walk.Shot("side-by-side");
  walk.Hold(Qt::Key_F, true);
  walk.Wait([&] { return !window.easel().over().shown.empty(); }, 10000);
  walk.Shot("flicker-one");
  walk.Rest(400);
  walk.Shot("flicker-other");
  walk.Hold(Qt::Key_F, false);
  walk.Key(Qt::Key_N);
  walk.Key(Qt::Key_M);
  walk.Wait(came, 30000);
  walk.Rest(500);
  walk.Shot("four-pictures");
  walk.Key(Qt::Key_Plus);
  walk.Key(Qt::Key_Plus);
  walk.Wait(came, 120000);
  walk.Rest(500);
  walk.Shot("four-pictures-linked");
  walk.Key(Qt::Key_0);
  walk.Key(Qt::Key_N);
  walk.Key(Qt::Key_M);
  window.hand().TakeFrame(Clipped(book));
  walk.Wait(came, 30000);
  walk.Key(Qt::Key_H);
  walk.Wait(came, 30000);
  walk.Rest(500);
  walk.Shot("ends-of-range");
  walk.Key(Qt::Key_H);
  // A colour that the delivery space does not hold.
  window.hand().TakeFrame(Paired(book));
  record::Handles strong = window.link().desk()->TouchOf(window.hand().frame());
  strong.chroma += 0.6;
  window.link().desk()->Touch(window.hand().frame(), strong);
  walk.Key(Qt::Key_H);
  walk.Wait(came, 30000);
  walk.Rest(1000);
  walk.Shot("beyond-the-delivery-space");
  static_cast<void>(window.easel().SetSoftProof(true));
  walk.Rest(1000);
  walk.Shot("as-delivered");
  if (!proof.empty()) {
    std::ifstream file(proof, std::ios::binary);
    const std::vector<std::uint8_t> icc{std::istreambuf_iterator<char>(file), {}};
    const Status set = window.easel().SetSoftProof(true, icc);
    if (!set.ok()) std::fprintf(stderr, "%s: %s\n", proof.c_str(), set.error().Text().c_str());
    walk.Rest(3000);
    walk.Shot("as-printed");
  }
  static_cast<void>(window.easel().SetSoftProof(false));
  walk.Key(Qt::Key_H);
  window.link().desk()->Undo();
  walk.Rest(1000);
  // A file that cannot be read.
  fs::create_directories(shots / "odd");
  std::ofstream(shots / "odd" / "broken.jpg") << "no picture";
  window.link().desk()->StartAdd({shots / "odd"}, {});
  walk.Wait([&] { return !window.link().book()->problems.empty() && !window.link().desk()->job(); }, 120000);
  QTimer::singleShot(200, &window, [&] {
    auto* menu = qobject_cast<QMenu*>(QApplication::activePopupWidget());
    if (!menu) return;
    walk.Shot("session-menu");
    menu->grab().save(QString::fromStdString((shots / "menu.png").string()));
    for (QAction* action : menu->actions())
      if (action->text().startsWith(QStringLiteral("Problems"))) menu->setActiveAction(action);
    QTest::keyClick(menu, Qt::Key_Return);
  });
  walk.Click(window.worklist_band()->session_button());
  walk.Rest(300);
  walk.Shot("problems");
  window.close();
  return 0;
}

}  // namespace
}  // namespace samelight::bench

int main(int argc, char** argv) {
  QApplication app(argc, argv);
  QApplication::setApplicationName(QStringLiteral("samelight-sights"));
  if (argc != 3 && argc != 5 && argc != 6) {
    std::fprintf(stderr, "usage: window_sights SESSION SHOTS_DIR [WIDTH HEIGHT [PROOF.icc]]\n");
    return 2;
  }
  samelight::window::theme::Apply();
  const bool sized = argc >= 5;
  return samelight::bench::Sights(std::filesystem::absolute(argv[1]), std::filesystem::absolute(argv[2]),
                                  sized ? std::atoi(argv[3]) : 1600, sized ? std::atoi(argv[4]) : 1000,
                                  argc == 6 ? argv[5] : "");
}
