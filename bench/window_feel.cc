// How the window feels in the hand, in figures: start, opening, a handle's change, a dot's drag, the share of
// skin, a touch carried to a large light, and every turn of the interface while all of that is done.
//   window_feel SESSION FRAMES        all of it
//   window_feel SESSION FRAMES turns  only the turns of the interface
//   window_feel SESSION FRAMES loom   only those of a walk through every picture of the loom
// A copy of SESSION with FRAMES frames is made beside it (bench/repeat_session.h).
#include <algorithm>
#include <chrono>
#include <cstdio>
#include <string>
#include <utility>
#include <vector>

#include <QtCore/QEventLoop>
#include <QtCore/QTimer>
#include <QtGui/QPainter>

#include "bench/repeat_session.h"
#include "bench/turns.h"
#include "bench/window_walk.h"
#include "bench/window_work.h"
#include "window/view/theme.h"

namespace samelight::bench {
namespace {

namespace fs = std::filesystem;
using Clock = std::chrono::steady_clock;

double Ms(Clock::time_point from) {
  return std::chrono::duration<double, std::milli>(Clock::now() - from).count();
}

double Quantile(std::vector<double> v, double q) {
  if (v.empty()) return 0;
  std::sort(v.begin(), v.end());
  return v[std::min(v.size() - 1, static_cast<std::size_t>(q * static_cast<double>(v.size())))];
}

int failures = 0;
void Tell(const char* what, double value, double most, const char* unit) {
  const bool holds = value <= most;
  failures += !holds;
  std::printf("%-58s %8.1f %s  (at most %.0f)%s\n", what, value, unit, most, holds ? "" : "  MISSED");
  std::fflush(stdout);
}

// A touch of one frame goes to every other of the light that runs through all copies.
void CarryToLargeLight(window::MainWindow& window, WindowWalk& walk) {
  const std::shared_ptr<const job::Book> book = window.link().book();
  const PhotoId from = book->lights.front().frames.front();
  window.hand().TakeFrame(from);
  record::Handles touch = window.link().desk()->TouchOf(from);
  touch.warmth_mired += 4;
  window.link().desk()->Touch(from, touch);
  walk.Rest(1500);
  bool judged = false;
  const QMetaObject::Connection heard =
      QObject::connect(&window.link(), &window::DeskLink::framesChanged, &window,
                       [&](const std::vector<PhotoId>& frames) { judged = judged || frames.size() > 1; });
  window.easel_view()->setFocus();
  const auto begun = Clock::now();
  QTest::keyClick(window.easel_view(), Qt::Key_L, Qt::ControlModifier);
  const double said = Ms(begun);
  walk.Wait([&] { return judged; }, 5000);
  const double heard_ms = Ms(begun);
  QObject::disconnect(heard);
  std::printf("(a light of %zu frames; its rows are new after %.0f ms)\n", book->lights.front().frames.size(),
              heard_ms);
  Tell("a touch is carried to a large light, in the interface", said, 50, "ms");
  walk.Rest(3000);
}

// Every turn of a plain window of this size, a third of it filled anew sixty times a second: what this
// machine and this display grant to any program.
void Floor() {
  class Plain : public QWidget {
   public:
    int grey = 0;

   protected:
    void paintEvent(QPaintEvent* e) override {
      QPainter(this).fillRect(e->rect(), QColor(40 + grey % 40, 40 + grey % 40, 40 + grey % 40));
    }
  } plain;
  plain.resize(1600, 1000);
  plain.show();
  QTest::qWait(300);
  Watchdog dog;
  for (int i = 0; i < 300; ++i) {
    ++plain.grey;
    plain.update(0, 52, 1600, 300);
    QEventLoop loop;
    QTimer::singleShot(16, &loop, &QEventLoop::quit);
    loop.exec();
  }
  std::printf("(a plain window on this display: %zu turns, %.2f %% within 16 ms, longest %.1f ms)\n",
              dog.turns().size(), Within(dog.turns(), 16), Longest(dog.turns()));
}

void TellTurns(const char* what, const std::vector<Turn>& turns) {
  PrintTurns(what, turns);
  Tell("turns of the interface above 16 ms", 100 - Within(turns, 16), 0.1, "%");
  Tell("longest turn of the interface", Longest(turns), 50, "ms");
}

// All that a person does by hand.
void Turns(window::MainWindow& window) {
  Floor();
  Watchdog dog;
  WindowWork work(window, dog);
  work.WalkLoom();
  work.SettleAndUndo();
  work.Touch();
  TellTurns("walking, settling, touching", dog.turns());
}

// From the first picture to the last and back, pleats opened and shut on the way.
void LoomTurns(window::MainWindow& window) {
  Floor();
  Watchdog dog;
  WindowWork(window, dog).WalkWholeLoom();
  TellTurns("through every picture of the loom", dog.turns());
}

int Feel(const fs::path& from, int frames, const std::string& part, Clock::time_point started) {
  const fs::path file = from.parent_path() / ("feel-" + std::to_string(frames) + ".samelight");
  const auto made = Clock::now();
  if (!RepeatSession(from, file, frames)) {
    std::fprintf(stderr, "the session could not be repeated: %s\n", file.c_str());
    return 3;
  }
  started += Clock::now() - made;
  window::MainWindow window({});
  window.resize(1600, 1000);
  window.show();
  WindowWalk walk(window, {});
  walk.Wait([&] { return window.isVisible(); }, 5000);
  QApplication::processEvents();
  Tell("start to a painted window", Ms(started), 1000, "ms");

  // Once to fill the cache of thumbnails, once to be measured.
  window.link().OpenSoon(file);
  walk.Wait([&] { return window.HasThumbnails(); }, 60000);
  const auto waited = Clock::now();
  std::size_t settled = 0;
  while (Ms(waited) < 240000) {
    walk.Rest(3000);
    std::size_t made_now = 0;
    for (const job::FrameRow& row : window.link().book()->frames)
      made_now +=
          window.link().pictures().Thumbnail(
              {row.photo.id, row.solved ? job::Showing::kCorrected : job::Showing::kOriginal}) != nullptr;
    if (made_now == settled || made_now == window.link().book()->frames.size()) break;
    settled = made_now;
  }
  window.link().Close();
  walk.Rest(500);
  const auto opened = Clock::now();
  window.link().OpenSoon(file);
  // Usable: the pair in hand is on the easel and the thumbnails around it are on the loom.
  walk.Wait(
      [&] {
        if (!window.HasThumbnails() || window.easel().panes().empty()) return false;
        for (const window::Easel::Pane& pane : window.easel().panes())
          if (pane.shown.empty()) return false;
        return true;
      },
      20000);
  std::printf("%zu frames, %zu scans\n", window.link().book()->frames.size(),
              window.link().book()->scans.size());
  Tell("a session opens, pair on the easel, thumbnails cached", Ms(opened), 2000, "ms");
  walk.Rest(4000);
  if (part == "loom" || part == "turns") {
    part == "loom" ? LoomTurns(window) : Turns(window);
    window.close();
    return failures == 0 ? 0 : 1;
  }

  // A handle's change until its picture is painted on the easel.
  PhotoId paired;
  for (const job::ScanRow& scan : window.link().book()->scans)
    if (scan.pair.kind == record::PairKind::kMoment) paired = scan.photo.id;
  window.hand().TakeScan(paired);
  walk.Rest(3000);
  bool came = false;
  std::vector<double> own;  // spent in the interface's thread before the picture is waited for
  QObject::connect(&window.easel(), &window::Easel::pictureCame, &window, [&](int pane) {
    if (pane >= 0 && window.easel().panes()[pane].stand == window::Easel::Stand::kFrame) came = true;
  });
  const auto shown_after = [&](const std::function<void()>& change) {
    came = false;
    const auto begun = Clock::now();
    change();
    own.push_back(Ms(begun));
    while (!came && Ms(begun) < 2000) QApplication::processEvents(QEventLoop::WaitForMoreEvents, 20);
    window.easel_view()->repaint();
    return Ms(begun);
  };
  std::vector<double> handle, dot;
  window::HandleField* field = window.instruments_band()->correction()->field(record::Handle::kExposure);
  QTest::mousePress(field, Qt::LeftButton, Qt::NoModifier, field->rect().center());
  for (int i = 1; i <= 60; ++i)
    handle.push_back(
        shown_after([&] { walk.Move(field, QPointF(field->rect().center()) + QPointF(4.0 * i, 0)); }));
  QTest::mouseRelease(field, Qt::LeftButton, Qt::NoModifier, field->rect().center());
  walk.Rest(800);
  std::printf("(of a handle's change in the interface's own thread, median %.1f ms)\n", Quantile(own, 0.5));
  own.clear();
  window::PlaneView* plane = window.instruments_band()->plane();
  for (int row = 0; row < static_cast<int>(window.instruments().regions().size()); ++row) {
    const QPointF at = plane->FrameDot(row);
    QTest::mousePress(plane, Qt::LeftButton, Qt::NoModifier, at.toPoint());
    for (int i = 1; i <= 20; ++i)
      dot.push_back(shown_after([&] { walk.Move(plane, at + QPointF(6 * std::sin(i), 6 * std::cos(i))); }));
    QTest::mouseRelease(plane, Qt::LeftButton, Qt::NoModifier, at.toPoint());
    walk.Rest(500);
  }
  std::printf("(of a dot's drag in the interface's own thread, median %.1f ms)\n", Quantile(own, 0.5));
  const QRectF box = window.easel().panes().back().box;
  std::printf("picture on the easel: %.0f x %.0f\n", box.width(), box.height());
  Tell("a handle's change is painted, median", Quantile(handle, 0.5), 33, "ms");
  Tell("a handle's change is painted, 95 %", Quantile(handle, 0.95), 33, "ms");
  Tell("a dot's drag with its solve is painted, median", Quantile(dot, 0.5), 50, "ms");
  Tell("a dot's drag with its solve is painted, 95 %", Quantile(dot, 0.95), 50, "ms");
  // Skin at a share of its own, drawn along the follow line.
  window::FollowLine* follow = window.instruments_band()->correction()->follow();
  window.link().desk()->SetFollow(60, {window.hand().frame()}, record::RegionKind::kSkin);
  walk.Rest(800);
  own.clear();
  std::vector<double> share;
  const double under = 22;  // px: where the triangles are
  QTest::mousePress(follow, Qt::LeftButton, Qt::NoModifier, QPoint(static_cast<int>(follow->XOf(60)), 22));
  for (int i = 1; i <= 40; ++i)
    share.push_back(shown_after([&] { walk.Move(follow, {follow->XOf(60 - i), under}); }));
  QTest::mouseRelease(follow, Qt::LeftButton, Qt::NoModifier, QPoint(static_cast<int>(follow->XOf(20)), 22));
  walk.Rest(800);
  std::printf("(of the share of skin in the interface's own thread, median %.1f ms)\n", Quantile(own, 0.5));
  Tell("the share of skin is drawn and painted, median", Quantile(share, 0.5), 33, "ms");
  Tell("the share of skin is drawn and painted, 95 %", Quantile(share, 0.95), 33, "ms");
  CarryToLargeLight(window, walk);
  // One picture of 1500 x 1000 on the easel.
  window.resize(2100, 1624);
  window.easel().SetWay(window::Easel::Way::kWipe);
  walk.Rest(2500);
  handle.clear();
  QTest::mousePress(field, Qt::LeftButton, Qt::NoModifier, field->rect().center());
  for (int i = 1; i <= 60; ++i)
    handle.push_back(
        shown_after([&] { walk.Move(field, QPointF(field->rect().center()) + QPointF(4.0 * i, 0)); }));
  QTest::mouseRelease(field, Qt::LeftButton, Qt::NoModifier, field->rect().center());
  for (const window::Easel::Pane& pane : window.easel().panes())
    if (!pane.box.isEmpty())
      std::printf("picture on the easel: %.0f x %.0f\n", pane.box.width(), pane.box.height());
  Tell("a handle's change is painted, median", Quantile(handle, 0.5), 33, "ms");
  Tell("a handle's change is painted, 95 %", Quantile(handle, 0.95), 33, "ms");
  window.easel().SetWay(window::Easel::Way::kSide);
  window.resize(1600, 1000);
  walk.Rest(2500);

  Turns(window);
  window.close();
  return failures == 0 ? 0 : 1;
}

}  // namespace
}  // namespace samelight::bench

int main(int argc, char** argv) {
  const auto started = std::chrono::steady_clock::now();
  samelight::bench::CountedApplication app(argc, argv);
  QApplication::setApplicationName(QStringLiteral("samelight-feel"));
  const std::string part = argc == 4 ? argv[3] : "";
  if (argc < 3 || argc > 4 || (argc == 4 && part != "turns" && part != "loom")) {
    std::fprintf(stderr, "usage: window_feel SESSION FRAMES [turns|loom]\n");
    return 2;
  }
  samelight::window::theme::Apply();
  return samelight::bench::Feel(std::filesystem::absolute(argv[1]), std::atoi(argv[2]), part, started);
}
