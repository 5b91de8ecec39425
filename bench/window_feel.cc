// How the window feels in the hand, in figures: start, opening, a handle's change, a dot's drag, the share of
// skin, a touch carried to a large light, and every turn of the interface while all of that is done. Usage:
// window_feel SESSION FRAMES A copy of SESSION is made beside it whose pictures are repeated until it has
// FRAMES frames (invented data: the rows are real, their number is not); its first light runs through all
// copies.
#include <algorithm>
#include <chrono>
#include <cstdio>
#include <string>
#include <utility>
#include <vector>

#include <ctime>

#include <glib.h>

#include <QtCore/QEventLoop>
#include <QtCore/QTimer>

#include "bench/window_walk.h"
#include "session/session.h"
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

// Processor time of this thread: what a turn would take if nothing else ran.
double OwnMs() {
  timespec now{};
  clock_gettime(CLOCK_THREAD_CPUTIME_ID, &now);
  return 1e3 * static_cast<double>(now.tv_sec) + 1e-6 * static_cast<double>(now.tv_nsec);
}

// How long each turn of the interface thread takes: from one poll of the event loop to the next.
class Watchdog {
 public:
  Watchdog() {
    active_ = this;
    g_main_context_set_poll_func(nullptr, [](GPollFD* fds, guint count, gint timeout) {
      if (active_) active_->Ended();
      const gint ready = g_poll(fds, count, timeout);
      if (active_) {
        active_->begun_ = Clock::now();
        active_->own_begun_ = OwnMs();
      }
      return ready;
    });
  }
  ~Watchdog() { active_ = nullptr; }
  // What the person does, for the list of long turns.
  void Doing(std::string what) { doing_ = std::move(what); }
  struct Long {
    double ms, own_ms;
    std::string what;
  };
  const std::vector<Long>& longest() const { return longest_; }
  const std::vector<double>& turns() const { return turns_; }
  const std::vector<double>& own() const { return own_; }

 private:
  void Ended() {
    if (begun_ == Clock::time_point()) return;
    turns_.push_back(Ms(begun_));
    own_.push_back(OwnMs() - own_begun_);
    if (turns_.back() > 16) longest_.push_back({turns_.back(), own_.back(), doing_});
  }
  static inline Watchdog* active_ = nullptr;
  Clock::time_point begun_;
  double own_begun_ = 0;
  std::vector<double> turns_, own_;
  std::vector<Long> longest_;
  std::string doing_;
};

// The session with its rows repeated; false when it cannot be written.
bool Repeat(const fs::path& from, const fs::path& to, int frames) {
  std::error_code ec;
  for (const char* tail : {"", "-wal", "-shm"}) fs::remove(to.string() + tail, ec);
  fs::copy_file(from, to, fs::copy_options::overwrite_existing, ec);
  if (ec) return false;
  const fs::path cache = fs::path(to).replace_extension(".cache");
  if (!fs::exists(cache)) fs::create_directory_symlink(fs::path(from).replace_extension(".cache"), cache, ec);
  auto session = session::Session::Open(to, session::Access::kWrite);
  if (!session.ok()) return false;
  auto photos = (*session)->Photos();
  auto measured = (*session)->Measured();
  auto pairs = (*session)->Pairs();
  auto match = (*session)->Match();
  auto change = (*session)->Begin();
  if (!photos.ok() || !measured.ok() || !pairs.ok() || !match.ok() || !change.ok()) return false;
  int count = 0;
  for (const record::Photo& photo : *photos) count += photo.role == record::Role::kFrame;
  if (count == 0) return false;
  session::PairResult all = *pairs;
  session::MatchResult solved = *match;
  all.scan_to_frame.clear();
  all.frame_to_frame.clear();
  for (int copy = 1; copy * count < frames; ++copy) {
    std::unordered_map<PhotoId, PhotoId> twin;
    for (record::Photo photo : *photos) {
      const PhotoId old = photo.id;
      photo.id = {};
      // Another name for the same file.
      for (int i = 0; i < copy; ++i) photo.path.insert(0, "./");
      if (photo.capture.time_us) *photo.capture.time_us += copy * 3'600'000'000LL;
      if (photo.role == record::Role::kScan) photo.roll_position += copy * 100;
      if (!change->Put(photo).ok()) return false;
      twin[old] = photo.id;
      const auto facts = measured->find(old);
      if (facts != measured->end() && !change->PutMeasured(photo.id, facts->second).ok()) return false;
    }
    for (record::Light light : pairs->lights) {
      if (light.id == pairs->lights.front().id) {
        for (const PhotoId id : light.frames) all.lights.front().frames.push_back(twin[id]);
        for (const PhotoId id : light.scans) all.lights.front().scans.push_back(twin[id]);
        continue;
      }
      light.id.value += 1000 * copy;
      light.name += " " + std::to_string(copy + 1);
      for (PhotoId& id : light.frames) id = twin[id];
      for (PhotoId& id : light.scans) id = twin[id];
      all.lights.push_back(light);
    }
    for (record::Pair pair : pairs->pairs) {
      pair.scan = twin[pair.scan];
      if (pair.frame.valid()) pair.frame = twin[pair.frame];
      for (record::PairCandidate& other : pair.alternatives) other.frame = twin[other.frame];
      all.pairs.push_back(pair);
    }
    for (record::FrameSolution solution : match->frames) {
      solution.frame = twin[solution.frame];
      solution.correction.frame = solution.frame;
      if (solution.light != pairs->lights.front().id) solution.light.value += 1000 * copy;
      if (solution.scan.valid()) solution.scan = twin[solution.scan];
      solved.frames.push_back(solution);
    }
  }
  return change->ReplacePairs(all).ok() && change->ReplaceMatch(solved).ok() && change->Commit().ok();
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

// What a person does that is no walk: fields, dots, the share of skin, ways to look, the sheet, a carry. Each
// event is posted, so that the turn that takes it is counted.
class Work {
 public:
  Work(window::MainWindow& window, Watchdog& dog) : window_(window), dog_(dog) {}
  void All() {
    window::HandleField* field = window_.instruments_band()->correction()->field(record::Handle::kGamma);
    Drag("a field is drawn", field, QPointF(field->rect().center()), {60, 0});
    window::PlaneView* plane = window_.instruments_band()->plane();
    Drag("a dot is drawn", plane, plane->FrameDot(0), {9, -7});
    window::FollowLine* follow = window_.instruments_band()->correction()->follow();
    Drag("follow is drawn", follow, {follow->XOf(100), 15}, {follow->XOf(55) - follow->XOf(100), 0});
    for (const auto& [what, key] : {std::pair("wipe", Qt::Key_W),
                                    {"side by side", Qt::Key_S},
                                    {"nearer", Qt::Key_Plus},
                                    {"nearer", Qt::Key_Plus},
                                    {"all of it", Qt::Key_0},
                                    {"hatching", Qt::Key_H},
                                    {"hatching", Qt::Key_H},
                                    {"a neighbour", Qt::Key_N},
                                    {"a neighbour", Qt::Key_N},
                                    {"the sheet", Qt::Key_L},
                                    {"the sheet", Qt::Key_L}})
      Key(what, key, {});
    Key("carried to the light", Qt::Key_L, Qt::ControlModifier);
    Key("undone", Qt::Key_Z, Qt::ControlModifier);
  }

 private:
  void Spend(int ms) {
    QEventLoop loop;  // sleeps between turns, as the program does
    QTimer::singleShot(ms, &loop, &QEventLoop::quit);
    loop.exec();
  }
  void Mouse(QWidget* on, QEvent::Type type, QPointF at) {
    const bool held = type != QEvent::MouseButtonRelease;
    const Qt::MouseButton button = type == QEvent::MouseMove ? Qt::NoButton : Qt::LeftButton;
    QApplication::postEvent(on, new QMouseEvent(type, at, on->mapToGlobal(at), button,
                                                held ? Qt::LeftButton : Qt::NoButton, Qt::NoModifier));
    Spend(16);
  }
  void Drag(const char* what, QWidget* on, QPointF from, QPointF by) {
    dog_.Doing(what);
    Mouse(on, QEvent::MouseButtonPress, from);
    for (int i = 1; i <= 40; ++i) Mouse(on, QEvent::MouseMove, from + by * i / 40);
    Mouse(on, QEvent::MouseButtonRelease, from + by);
    Spend(400);
  }
  void Key(const char* what, Qt::Key key, Qt::KeyboardModifiers modifiers) {
    dog_.Doing(what);
    QWidget* on = window_.sheet_view()->isVisible() ? static_cast<QWidget*>(window_.sheet_view())
                                                    : window_.easel_view();
    QApplication::postEvent(on, new QKeyEvent(QEvent::KeyPress, key, modifiers));
    Spend(900);
  }
  window::MainWindow& window_;
  Watchdog& dog_;
};

int Feel(const fs::path& from, int frames, Clock::time_point started) {
  const fs::path file = from.parent_path() / ("feel-" + std::to_string(frames) + ".samelight");
  const auto made = Clock::now();
  if (!Repeat(from, file, frames)) {
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

  // Every turn while the loom is walked through, pleats open and shut, pictures are taken in hand; frames are
  // settled and that is taken back, which changes the book.
  Watchdog dog;
  window::LoomView* loom = window.loom();
  const auto wheel = [&](int notches, Qt::KeyboardModifiers modifiers) {
    const QPointF at(loom->width() / 2.0, loom->height() / 2.0);
    QWheelEvent e(at, loom->mapToGlobal(at), {}, QPoint(0, 120 * notches), Qt::NoButton, modifiers,
                  Qt::NoScrollPhase, false);
    QApplication::sendEvent(loom, &e);
  };
  const auto walked = Clock::now();
  for (int i = 0; i < 220; ++i) {
    wheel(i < 150 ? -2 : 2, {});
    QEventLoop loop;  // sleeps between turns, as the program does
    QTimer::singleShot(16, &loop, &QEventLoop::quit);
    loop.exec();
    dog.Doing("walking");
    if (i % 20 == 19) dog.Doing("a pleat");
    if (i % 30 == 29) dog.Doing("another frame in hand");
    if (i % 20 == 19) wheel(i % 40 == 19 ? 1 : -1, Qt::ControlModifier);
    // Posted, so that the turn that takes them is counted.
    if (i % 30 == 29)
      QApplication::postEvent(&window, new QKeyEvent(QEvent::KeyPress, Qt::Key_PageDown, Qt::NoModifier));
    const QPointF at(200 + (i * 37) % 1200, loom->height() * 0.7);
    QApplication::postEvent(loom, new QMouseEvent(QEvent::MouseMove, at, loom->mapToGlobal(at), Qt::NoButton,
                                                  Qt::NoButton, Qt::NoModifier));
  }
  dog.Doing("settling, undoing");
  window.easel_view()->setFocus();
  for (int i = 0; i < 24; ++i) {
    const bool settle = i % 2 == 0;
    QApplication::postEvent(window.easel_view(),
                            new QKeyEvent(QEvent::KeyPress, settle ? Qt::Key_Return : Qt::Key_Z,
                                          settle ? Qt::NoModifier : Qt::ControlModifier));
    QEventLoop loop;
    QTimer::singleShot(120, &loop, &QEventLoop::quit);
    loop.exec();
  }
  Work(window, dog).All();
  const std::vector<double> turns = dog.turns();
  for (const Watchdog::Long& one : dog.longest())
    std::printf("  a turn of %.0f ms, %.0f of them its own: %s\n", one.ms, one.own_ms, one.what.c_str());
  const auto within = [&](double most) {
    return 100.0 *
           static_cast<double>(
               std::count_if(turns.begin(), turns.end(), [&](double t) { return t <= most; })) /
           static_cast<double>(std::max<std::size_t>(1, turns.size()));
  };
  std::printf("%zu turns of the interface in %.0f s; %.2f %% within 16 ms\n", turns.size(), Ms(walked) / 1000,
              within(16));
  std::printf("(by the thread's own processor time: %zu above 16 ms, longest %.0f ms)\n",
              static_cast<std::size_t>(
                  std::count_if(dog.own().begin(), dog.own().end(), [](double t) { return t > 16; })),
              *std::max_element(dog.own().begin(), dog.own().end()));
  Tell("turns of the interface above 16 ms", 100 - within(16), 0.1, "%");
  Tell("longest turn of the interface", turns.empty() ? 0 : *std::max_element(turns.begin(), turns.end()), 50,
       "ms");
  window.close();
  return failures == 0 ? 0 : 1;
}

}  // namespace
}  // namespace samelight::bench

int main(int argc, char** argv) {
  const auto started = std::chrono::steady_clock::now();
  QApplication app(argc, argv);
  QApplication::setApplicationName(QStringLiteral("samelight-feel"));
  if (argc != 3) {
    std::fprintf(stderr, "usage: window_feel SESSION FRAMES\n");
    return 2;
  }
  samelight::window::theme::Apply();
  return samelight::bench::Feel(std::filesystem::absolute(argv[1]), std::atoi(argv[2]), started);
}
