// The whole job in the window, from two dropped folders to delivered files, by events alone; a picture at
// each step. Usage: window_tour FILM DIGITAL WORK_FOLDER SHOTS_FOLDER
//                   window_tour SESSION WORK_FOLDER SHOTS_FOLDER   (what a newcomer does, alone)
#include <cstdio>

#include <QtCore/QElapsedTimer>
#include <QtCore/QTimer>
#include <QtWidgets/QMenu>

#include "bench/window_keys.h"
#include "bench/window_walk.h"
#include "window/view/theme.h"

namespace samelight::bench {
namespace {

namespace fs = std::filesystem;
using window::MainWindow;

int failures = 0;
void Expect(bool holds, const char* what) {
  std::printf("%s  %s\n", holds ? "ok  " : "FAIL", what);
  std::fflush(stdout);
  if (!holds) ++failures;
}

// Brings the frame with the largest left-over in hand, as a person would: by walking through what is to be
// checked.
void WalkToWorst(WindowWalk& walk, MainWindow& window) {
  const std::shared_ptr<const job::Book> book = window.link().book();
  PhotoId worst;
  double most = -1;
  for (const job::FrameRow& row : book->frames)
    if (row.state == job::FrameState::kToCheck && row.worst > most) {
      most = row.worst;
      worst = row.photo.id;
    }
  for (int i = 0; i < book->to_check + 1 && window.hand().frame() != worst; ++i) walk.Key(Qt::Key_PageDown);
}

// Types a path into the dialog that asks for a file; again each second while it stays, since its list of
// names that begin so may take the keys on a busy machine.
void AnswerFileDialog(MainWindow& window, const QString& path) {
  auto* soon = new QTimer(&window);
  QObject::connect(soon, &QTimer::timeout, &window, [soon, path, looked = 0]() mutable {
    QWidget* dialog = QApplication::activeModalWidget();
    auto* name = dialog ? dialog->findChild<QLineEdit*>() : nullptr;
    if (!name && looked > 0) soon->deleteLater();
    if (!name || looked++ % 10 != 0) return;
    name->setFocus();
    name->selectAll();
    QTest::keyClicks(name, path);
    if (QWidget* names = QApplication::activePopupWidget()) QTest::keyClick(names, Qt::Key_Escape);
    QTest::keyClick(name, Qt::Key_Return);
  });
  soon->start(100);
}

// Opens the session's menu by a click and takes an entry by keys.
void ChooseInSession(MainWindow& window, WindowWalk& walk, const QString& entry) {
  QTimer::singleShot(60, &window, [entry] {
    auto* menu = qobject_cast<QMenu*>(QApplication::activePopupWidget());
    for (int i = 0; menu && i < 40; ++i) {
      QTest::keyClick(menu, Qt::Key_Down);
      if (menu->activeAction() && menu->activeAction()->text().startsWith(entry)) {
        QTest::keyClick(menu, Qt::Key_Return);
        return;
      }
    }
    if (menu) menu->close();
  });
  walk.Click(window.worklist_band()->session_button());
  walk.Rest(200);
}

// The skin of the frame in hand against its scan, -1: none.
int SkinRow(MainWindow& window) {
  const std::vector<job::RegionRow>& rows = window.instruments().regions();
  for (std::size_t i = 0; i < rows.size(); ++i)
    if (rows[i].kind == record::RegionKind::kSkin && rows[i].has_scan) return static_cast<int>(i);
  return -1;
}

// Someone who has never seen the window, with nothing but it: opens the session, finds the worst frame that
// shows skin beside its scan, fixes its skin, carries that to the light, delivers three files.
void Newcomer(const fs::path& session, const fs::path& work, const fs::path& shots) {
  MainWindow window({});
  window.resize(1600, 1000);
  window.show();
  window.activateWindow();
  Expect(QTest::qWaitForWindowActive(&window), "a newcomer's window takes keys");
  WindowWalk walk(window, shots);
  QElapsedTimer spent;
  spent.start();
  AnswerFileDialog(window, QString::fromStdString(session.string()));
  walk.Key(Qt::Key_O, Qt::ControlModifier);
  Expect(walk.Wait([&] { return window.link().desk() && window.HasThumbnails(); }, 20000),
         "the session opens");
  window.activateWindow();  // without a window manager nobody gives the keys back after a dialog
  Expect(QTest::qWaitForWindowActive(&window), "the keys come back from the dialog");
  walk.Rest(1500);
  walk.Shot("newcomer-opened");
  // Walks through what is to be checked, else through all pairs, and looks at the left-over of skin.
  const auto skin = [&] {
    const int row = SkinRow(window);
    return row < 0 ? -1.0 : window.instruments().regions()[row].now;
  };
  PhotoId worst;
  double most = -1;
  window.loom()->FocusPart(window::LoomView::Part::kScans);
  walk.Key(Qt::Key_Home);
  const int scans = static_cast<int>(window.link().book()->scans.size());
  for (int i = 0; i < scans; ++i) {
    walk.Rest(60);
    if (window.hand().own_scan())  // its matched places may still be on their way
      walk.Wait(
          [&] {
            return window.link().desk()->Matched(window.hand().scan(), window.hand().frame()) != nullptr;
          },
          4000);
    if (skin() > most) {
      most = skin();
      worst = window.hand().frame();
    }
    walk.Key(Qt::Key_Right);
  }
  for (int i = 0; i < scans && window.hand().frame() != worst; ++i) walk.Key(Qt::Key_Left);
  Expect(worst.valid() && window.hand().frame() == worst, "the worst skin is in hand");
  if (!worst.valid()) return;
  walk.Rest(1200);
  walk.Shot("newcomer-worst-skin");
  window::PlaneView* plane = window.instruments_band()->plane();
  const int row = SkinRow(window);
  const job::RegionRow before = window.instruments().regions()[row];
  const QPointF from = plane->FrameDot(row), to = plane->At(before.lab_scan[1], before.lab_scan[2]);
  walk.Drag(plane, from, to);
  walk.Rest(300);
  walk.Drop(plane, to);
  walk.Rest(800);
  const double after = window.instruments().regions()[SkinRow(window)].now;
  std::printf("      skin %.1f -> %.1f\n", before.now, after);
  Expect(after < before.now, "its skin is nearer to the scan");
  walk.Shot("newcomer-skin-fixed");
  window.easel_view()->setFocus();
  walk.Key(Qt::Key_C);
  auto* carry = qobject_cast<window::CarrySlip*>(window.slip());
  Expect(carry != nullptr, "where to carry is asked");
  if (carry) {
    walk.Click(carry->to(job::Carry::To::kLight));
    walk.Rest(300);
    walk.Click(carry->start());
  }
  walk.Rest(300);
  Expect(walk.Wait([&] { return walk.Idle(); }, 60000), "what was carried is solved");
  window::LoomView* loom = window.loom();
  const int frame = [&] {
    for (std::size_t i = 0; i < loom->loom().frames.size(); ++i)
      if (loom->loom().frames[i].id == worst) return static_cast<int>(i);
    return 0;
  }();
  const window::LoomLight& light = loom->loom().lights[loom->loom().frames[frame].light];
  for (int i = 0; i < 3; ++i)
    walk.Click(loom, loom->FrameBox(light.first_frame + i).center(), Qt::ControlModifier);
  Expect(loom->selection().size() == 3, "three frames are chosen");
  window.easel_view()->setFocus();
  walk.Key(Qt::Key_D, Qt::ControlModifier);
  walk.Rest(400);
  Expect(qobject_cast<window::DeliverSlip*>(window.slip()) != nullptr, "what to deliver is asked");
  if (auto* three = qobject_cast<window::DeliverSlip*>(window.slip())) {
    auto* folder = three->out()->edit();
    QTest::mouseClick(folder, Qt::LeftButton);
    folder->selectAll();
    QTest::keyClicks(folder, QString::fromStdString((work / "newcomer").string()));
    if (!three->only()->isChecked()) QTest::keyClick(three->only(), Qt::Key_Space);
    walk.Click(three->start());
    walk.Rest(300);
  }
  Expect(walk.Wait([&] { return walk.Idle(); }, 600000), "the newcomer's three are delivered");
  std::error_code ec;
  int files = 0;
  for (const auto& entry : fs::directory_iterator(work / "newcomer", ec))
    files += entry.path().extension() == ".jpg";
  Expect(files == 3, "three files are there");
  walk.Shot("newcomer-delivered");
  const double seconds = static_cast<double>(spent.elapsed()) / 1000;
  std::printf("      a newcomer: open, worst skin, fix it, carry it to the light, three files: %.0f s\n",
              seconds);
  Expect(seconds < 180, "in less than three minutes");
  window.close();
}

int Tour(const QString& film, const QString& digital, const fs::path& work, const fs::path& shots) {
  MainWindow window({});
  window.resize(1600, 1000);
  window.show();
  window.activateWindow();
  Expect(QTest::qWaitForWindowActive(&window), "the window takes keys");
  WindowWalk walk(window, shots);
  walk.Shot("nothing-open");

  auto* welcome = window.findChild<window::Welcome*>();
  walk.DropFolders(welcome, {400, 400}, {film});
  Expect(window.slip() != nullptr, "dropping scans asks for a new session");
  walk.DropFolders(welcome, {1000, 400}, {digital});
  auto* add = qobject_cast<window::AddSlip*>(window.slip());
  Expect(add && add->film()->folders().size() == 1 && add->digital()->folders().size() == 1,
         "both folders are in");
  if (!add) return 1;
  add->session()->setFocus();
  walk.Key(Qt::Key_A, Qt::ControlModifier);
  walk.Type(QString::fromStdString((work / "session.samelight").string()));
  walk.Shot("new-session");
  walk.Click(add->start());
  walk.Rest(4000);
  walk.Shot("at-work");
  const bool matched = walk.Wait([&] { return walk.Idle() && window.link().book()->matched; }, 1800000);
  Expect(matched, "paired and matched");
  if (!matched) return 1;
  Expect(walk.Wait([&] { return window.HasThumbnails(); }, 20000), "thumbnails came");
  walk.Rest(5000);
  walk.Shot("matched");

  window.easel_view()->setFocus();
  WalkToWorst(walk, window);
  walk.Rest(1500);
  walk.Shot("worst-frame");
  walk.Key(Qt::Key_W);
  walk.Rest(800);
  walk.Shot("wipe");
  walk.Key(Qt::Key_S);
  walk.Hold(Qt::Key_B, true);
  walk.Rest(800);
  walk.Shot("before");
  walk.Hold(Qt::Key_B, false);
  walk.Key(Qt::Key_Plus);
  walk.Key(Qt::Key_Plus);
  walk.Rest(2500);
  walk.Shot("at-100-percent");
  walk.Key(Qt::Key_0);
  walk.Key(Qt::Key_H);
  walk.Rest(1000);
  walk.Shot("ends-of-range");
  walk.Key(Qt::Key_H);
  walk.Key(Qt::Key_N);
  walk.Rest(1000);
  walk.Shot("with-neighbour");
  walk.Key(Qt::Key_N);
  walk.Key(Qt::Key_L);
  walk.Rest(2500);
  walk.Shot("sheet");
  walk.Key(Qt::Key_L);

  // A dot is drawn a third of the way to its scan's.
  window::PlaneView* plane = window.instruments_band()->plane();
  int row = -1;
  for (int i = 0; i < static_cast<int>(window.instruments().regions().size()); ++i)
    if (window.instruments().regions()[i].has_scan &&
        (row < 0 || window.instruments().regions()[i].now > window.instruments().regions()[row].now))
      row = i;
  Expect(row >= 0, "a region has its scan's colour beside it");
  if (row >= 0) {
    const job::RegionRow before = window.instruments().regions()[row];
    const QPointF from = plane->FrameDot(row),
                  to = from + (plane->At(before.lab_scan[1], before.lab_scan[2]) - from) / 3;
    walk.Drag(plane, from, to);
    walk.Rest(400);
    walk.Shot("dot-drag");
    walk.Drop(plane, to);
    walk.Rest(400);
    Expect(window.instruments().regions()[row].now < before.now, "the dot came nearer to its scan");
    Expect(window.link().desk()->CanUndo(), "the touch is a step of the history");
  }
  walk.Key(Qt::Key_C);
  walk.Rest(500);
  auto* carry = qobject_cast<window::CarrySlip*>(window.slip());
  Expect(carry != nullptr, "C asks where to carry");
  walk.Shot("carry");
  if (carry) {
    walk.Click(carry->start());
    walk.Rest(500);
    Expect(!window.slip(), "carried");
  }
  walk.Shot("carried");
  window.easel_view()->setFocus();
  const PhotoId settled = window.hand().frame();
  walk.Key(Qt::Key_Return);
  Expect(walk.Wait([&] { return window.link().book()->Frame(settled)->by_person; }, 2000), "Enter settles");

  // A ribbon's end is carried to the next frame, and taken back.
  window::LoomView* loom = window.loom();
  if (!loom->loom().ribbons.empty()) {
    int ribbon = 0;
    for (std::size_t i = 0; i < loom->loom().ribbons.size(); ++i)
      if (loom->loom().frames[loom->loom().ribbons[i].frame].light == loom->loom().frames[0].light)
        ribbon = static_cast<int>(i);
    // A click on the name of a light that is open would fold it.
    const int light = loom->loom().scans[loom->loom().ribbons[ribbon].scan].light;
    if (!loom->IsOpen(light)) walk.Click(loom, loom->LightBox(light).center());
    walk.Still([&] { return loom->FrameBox(loom->loom().ribbons[ribbon].frame); });
    const int frame = loom->loom().ribbons[ribbon].frame;
    const int next = frame > 0 && loom->loom().frames[frame - 1].light == loom->loom().frames[frame].light
                         ? frame - 1
                         : frame + 1;
    const window::RibbonEnds ends = loom->EndsOf(ribbon);
    const QPointF grab = window::RibbonPoint(ends, 0.85),
                  to(loom->FrameBox(next).center().x(), ends.bottom.y() - 6);
    walk.Drag(loom, grab, to, 10);
    walk.Rest(300);
    walk.Shot("ribbon-carried");
    walk.Drop(loom, to);
    walk.Rest(400);
    const auto by_hand = [&] {
      int count = 0;
      for (const job::ScanRow& scan : window.link().book()->scans) count += scan.pair.by_person;
      return count;
    };
    Expect(walk.Wait([&] { return by_hand() > 0; }, 3000), "the pair is the person's word");
    walk.Shot("tied-by-hand");
    walk.Key(Qt::Key_Z, Qt::ControlModifier);
    Expect(walk.Wait([&] { return by_hand() == 0; }, 3000), "and is taken back");
  }
  walk.Key(Qt::Key_F1);
  walk.Rest(300);
  walk.Shot("keys");
  walk.Key(Qt::Key_Escape);

  // Three frames are chosen, and go out first.
  window.easel_view()->setFocus();
  walk.Click(loom, loom->FrameBox(0).center());
  for (int frame = 0; frame < 3; ++frame)
    walk.Click(loom, loom->FrameBox(frame).center(), Qt::ControlModifier);
  Expect(loom->selection().size() == 3, "three frames are chosen");
  window.easel_view()->setFocus();
  walk.Key(Qt::Key_D, Qt::ControlModifier);
  if (auto* three = qobject_cast<window::DeliverSlip*>(window.slip())) {
    three->out()->edit()->setFocus();
    walk.Key(Qt::Key_A, Qt::ControlModifier);
    walk.Type(QString::fromStdString((work / "three").string()));
    three->only()->setFocus();
    walk.Key(Qt::Key_Space);
    walk.Click(three->start());
    Expect(walk.Wait([&] { return walk.Idle(); }, 600000), "three delivered");
    std::error_code ec;
    int files = 0;
    for (const auto& entry : fs::directory_iterator(work / "three", ec))
      files += entry.path().extension() == ".jpg";
    Expect(files == 3, "three files are there");
  }
  window.loom()->SetSelection({});

  window.easel_view()->setFocus();
  walk.Key(Qt::Key_D, Qt::ControlModifier);
  auto* deliver = qobject_cast<window::DeliverSlip*>(window.slip());
  Expect(deliver != nullptr, "Ctrl D asks what to deliver");
  walk.Rest(300);
  if (deliver) {
    deliver->out()->edit()->setFocus();
    walk.Key(Qt::Key_A, Qt::ControlModifier);
    walk.Type(QString::fromStdString((work / "delivered").string()));
    walk.Shot("deliver");
    walk.Click(deliver->start());
    walk.Rest(3000);
    walk.Shot("delivering");
    Expect(walk.Wait([&] { return walk.Idle(); }, 600000), "delivered");
    std::error_code ec;
    int files = 0;
    for (const auto& entry : fs::directory_iterator(work / "delivered", ec))
      files += entry.path().extension() == ".jpg";
    std::printf("      %d files delivered\n", files);
    Expect(files == static_cast<int>(window.link().book()->frames.size()), "every frame is a file");
  }
  walk.Shot("delivered");
  // The loom's own stories, and the slips that tell.
  for (const auto& [entry, name] : {std::pair("Rolls and clocks", "rolls"),
                                    {"The look of the film", "look"},
                                    {"Notes", "notes"},
                                    {"Figures", "notes"},
                                    {"Settings", "settings"},
                                    {"Proof sheet", "proof-sheet"}}) {
    ChooseInSession(window, walk, QString::fromLatin1(entry));
    walk.Rest(500);
    if (window.slip()) {
      walk.Shot(name);
      walk.Key(Qt::Key_Escape);
    }
    walk.Wait([&] { return walk.Idle(); }, 120000);
  }
  Expect(fs::exists(work / "proof sheet.html"), "the proof sheet is there");
  window.resize(1280, 800);
  walk.Rest(1500);
  walk.Shot("1280x800");
  window.close();
  // One body's frames: whether all of it can be done, not how much.
  const fs::path body = fs::path(digital.toStdString()) / "body-1",
                 roll = fs::path(film.toStdString()) / "roll-1";
  WalkByKeys(fs::exists(roll) ? roll.string() : film.toStdString(),
             fs::exists(body) ? body.string() : digital.toStdString(), work, shots / "keys", Expect);
  Newcomer(work / "session.samelight", work, shots / "newcomer");
  return failures == 0 ? 0 : 1;
}

}  // namespace
}  // namespace samelight::bench

int main(int argc, char** argv) {
  QApplication app(argc, argv);
  QApplication::setApplicationName(QStringLiteral("samelight-tour"));
  if (argc != 4 && argc != 5) {
    std::fprintf(stderr,
                 "usage: window_tour FILM DIGITAL WORK_FOLDER SHOTS_FOLDER\n"
                 "       window_tour SESSION WORK_FOLDER SHOTS_FOLDER\n");
    return 2;
  }
  samelight::window::theme::Apply();
  std::filesystem::create_directories(argv[argc - 2]);
  QApplication::setAttribute(Qt::AA_DontUseNativeDialogs);
  if (argc == 4) {
    std::filesystem::create_directories(argv[3]);
    samelight::bench::Newcomer(std::filesystem::absolute(argv[1]), argv[2], argv[3]);
    return samelight::bench::failures == 0 ? 0 : 1;
  }
  for (const char* part : {"newcomer", "keys"})
    std::filesystem::create_directories(std::filesystem::path(argv[4]) / part);
  return samelight::bench::Tour(QString::fromLocal8Bit(argv[1]), QString::fromLocal8Bit(argv[2]), argv[3],
                                argv[4]);
}
