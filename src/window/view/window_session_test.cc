// The session by events: filters, settings, a late roll, orders, full-size pixels, densities, names of
// controls.
#include <fstream>

#include <QtCore/QMimeData>
#include <QtCore/QProcess>
#include <QtCore/QSettings>
#include <QtCore/QUrl>
#include <QtGui/QDropEvent>
#include <QtGui/QImage>

#include "window/view/window_testing.h"

namespace samelight::window {
namespace {

namespace fs = std::filesystem;

class SessionWindowTest : public WindowTest {
 protected:
  QAbstractButton* ButtonOf(QWidget* in, const QString& words) {
    for (QAbstractButton* button : in->findChildren<QAbstractButton*>())
      if (button->text().startsWith(words)) return button;
    ADD_FAILURE() << "no button " << words.toStdString();
    return nullptr;
  }
  void FromSession(const QStringList& path) {
    Choose([&] { QTest::mouseClick(window_->worklist_band()->session_button(), Qt::LeftButton); }, path);
  }
  void Only(const QStringList& path) {
    QAbstractButton* only = ButtonOf(window_->worklist_band(), QStringLiteral("Only"));
    Choose([&] { QTest::mouseClick(only, Qt::LeftButton); }, path);
  }
  fs::path folder_;
  void SetUp() override {
    WindowTest::SetUp();
    folder_ = SmallDay() / ("work-" + std::to_string(::getpid()));
    window_->activateWindow();
    ASSERT_TRUE(QTest::qWaitForWindowActive(window_.get()));
  }
  void TearDown() override {
    window_.reset();
    fs::remove_all(folder_);
  }
};

TEST_F(SessionWindowTest, TheWorklistIsNarrowedToALightARollASourceOrAReason) {
  Open();
  const auto walked = [&] { return window_->worklist().rowCount(); };
  // Every frame counts, so that each filter has something to keep.
  WorklistFilter all;
  all.which = WorklistFilter::Which::kAll;
  window_->worklist().SetFilter(all);
  const int frames = walked();
  ASSERT_EQ(frames, static_cast<int>(book().frames.size()));
  Only({QStringLiteral("One light"), QString::fromStdString(book().lights[0].name)});
  EXPECT_EQ(walked(), static_cast<int>(book().lights[0].frames.size()));
  Only({QStringLiteral("All of them")});
  EXPECT_EQ(walked(), frames);
  Only({QStringLiteral("One roll"), QString::fromStdString(book().rolls[0].name)});
  EXPECT_LT(walked(), frames);
  EXPECT_GT(walked(), 0);
  Only({QStringLiteral("All of them")});
  Only({QStringLiteral("One source"), window_->worklist().Sources().first()});
  EXPECT_GT(walked(), 0);
  Only({QStringLiteral("All of them")});
  for (const job::FrameRow& row : book().frames)
    if (!row.reasons.empty()) {
      desk()->Settle({row.photo.id}, false);
      const QString reason = ReasonKind(row.reasons.front());
      ASSERT_TRUE(Until([&] { return window_->worklist().Reasons().contains(reason); }));
      Only({QStringLiteral("One reason"), reason});
      EXPECT_GT(walked(), 0);
      EXPECT_LE(walked(), frames);
      break;
    }
}

TEST_F(SessionWindowTest, ALateSessionIsOpenedAgainFromTheEmptyWindow) {
  fs::create_directories(folder_);
  window_ = std::make_unique<MainWindow>(folder_ / "recent");
  window_->resize(1600, 1000);
  window_->show();
  Open();
  const QString name = QString::fromStdString(book().file.stem().string());
  FromSession({QStringLiteral("Close the session")});
  ASSERT_TRUE(Until([&] { return !desk(); }));
  auto* welcome = window_->findChild<Welcome*>();
  ASSERT_TRUE(welcome->isVisible());
  QAbstractButton* lately = nullptr;
  for (QAbstractButton* button : welcome->findChildren<QAbstractButton*>())
    if (button->text().contains(name)) lately = button;
  ASSERT_TRUE(lately);
  EXPECT_TRUE(welcome->rect().contains(lately->geometry()));
  QTest::mouseClick(lately, Qt::LeftButton);
  ASSERT_TRUE(Until([&] { return desk() != nullptr; }));
  EXPECT_TRUE(window_->loom()->isVisible());
}

TEST_F(SessionWindowTest, TheFirstRunIsToldWhatARibbonIsUntilOneWasCarried) {
  QSettings().clear();
  Open();
  EXPECT_TRUE(window_->loom()->hint().startsWith(QStringLiteral("Each ribbon ties a scan to the frame")));
  LoomView* loom = window_->loom();
  TakePaired();
  QTest::qWait(20);
  loom->FocusPart(LoomView::Part::kRibbons);
  Key(Qt::Key_Space);
  Key(book().FrameIndex(window_->hand().frame()) > 0 ? Qt::Key_Left : Qt::Key_Right);
  Key(Qt::Key_Return);
  ASSERT_TRUE(Until([&] { return book().Scan(window_->hand().scan())->pair.by_person; }));
  EXPECT_TRUE(loom->hint().isEmpty());
  Reopen();
  EXPECT_TRUE(window_->loom()->hint().isEmpty());
}

TEST_F(SessionWindowTest, SettingsAreTypedCheckedAndTakenBack) {
  Open();
  FromSession({QStringLiteral("Settings")});
  auto* slip = qobject_cast<SettingsSlip*>(window_->slip());
  ASSERT_TRUE(slip);
  QLineEdit* tolerance = nullptr;
  for (QLineEdit* edit : slip->findChildren<QLineEdit*>())
    if (edit->accessibleName().startsWith(QLatin1String("Tolerance"))) tolerance = edit;
  ASSERT_TRUE(tolerance);
  const QString before = tolerance->text();
  const auto type = [&](const QString& text) {
    tolerance->setFocus();
    tolerance->selectAll();
    Type(text);
    Key(Qt::Key_Tab);
  };
  type(QStringLiteral("3,5"));
  ASSERT_TRUE(Until([&] { return session::SettingOf(book().standing, "tolerance") == 3.5; }));
  type(QStringLiteral("900"));
  EXPECT_EQ(tolerance->text(), QStringLiteral("3.5")) << "out of its range";
  EXPECT_EQ(session::SettingOf(book().standing, "tolerance"), 3.5);
  Key(Qt::Key_Escape);
  EXPECT_FALSE(window_->slip());
  window_->easel_view()->setFocus();
  Key(Qt::Key_Z, Qt::ControlModifier);
  EXPECT_TRUE(Until([&] { return session::SettingOf(book().standing, "tolerance") == before.toDouble(); }));
}

TEST_F(SessionWindowTest, ASoftProofIsTurnedOnAndAFileThatIsNoProfileIsTold) {
  fs::create_directories(folder_);
  std::ofstream(folder_ / "no.icc") << "no profile";
  Open();
  FromSession({QStringLiteral("Settings")});
  ASSERT_TRUE(window_->slip());
  QLineEdit* target = nullptr;
  for (QLineEdit* edit : window_->slip()->findChildren<QLineEdit*>())
    if (edit->accessibleName().startsWith(QLatin1String("Profile of the print"))) target = edit;
  QAbstractButton* proof = ButtonOf(window_->slip(), QStringLiteral("soft proof"));
  ASSERT_TRUE(target && proof);
  QTest::mouseClick(proof, Qt::LeftButton, Qt::NoModifier, QPoint(8, proof->height() / 2));
  EXPECT_TRUE(window_->easel().soft_proof()) << "of sRGB without a file";
  QTest::mouseClick(proof, Qt::LeftButton, Qt::NoModifier, QPoint(8, proof->height() / 2));
  EXPECT_FALSE(window_->easel().soft_proof());
  target->setFocus();
  Type(QString::fromStdString((folder_ / "no.icc").string()));
  Key(Qt::Key_Tab);
  QTest::mouseClick(proof, Qt::LeftButton, Qt::NoModifier, QPoint(8, proof->height() / 2));
  EXPECT_FALSE(window_->easel().soft_proof());
  EXPECT_FALSE(proof->isChecked()) << "what is not shown is not said to be";
  target->clear();
  Key(Qt::Key_Tab);
}

TEST_F(SessionWindowTest, TheLookIsKeptAndAnotherSessionBeginsFromIt) {
  fs::create_directories(folder_ / "data");
  qputenv("XDG_DATA_HOME", QByteArray::fromStdString((folder_ / "data").string()));
  Open();
  FromSession({QStringLiteral("The look of the film")});
  auto* slip = qobject_cast<LookSlip*>(window_->slip());
  ASSERT_TRUE(slip);
  EXPECT_EQ(slip->begin()->currentText(), QStringLiteral("what is built in"));
  ASSERT_TRUE(slip->keep()->isEnabled()) << slip->keep()->toolTip().toStdString();
  slip->name()->setFocus();
  Type(QStringLiteral("north lab"));
  std::string told = "nothing";
  QObject::connect(&window_->link(), &DeskLink::jobEnded, window_.get(), [&](const job::JobEnded& end) {
    told = end.status.ok() ? end.told.front() : end.status.error().Text();
  });
  QTest::mouseClick(slip->keep(), Qt::LeftButton);
  EXPECT_FALSE(window_->slip());
  ASSERT_TRUE(Idle());
  ASSERT_EQ(told, "the look north lab is kept; it has learned from 1 session");
  Reopen();
  FromSession({QStringLiteral("The look of the film")});
  slip = qobject_cast<LookSlip*>(window_->slip());
  ASSERT_TRUE(slip);
  ASSERT_TRUE(Until([&] { return slip->begin()->count() == 2; })) << "it is read in the background";
  slip->begin()->setFocus();
  Key(Qt::Key_Down);
  ASSERT_TRUE(Until([&] { return book().standing.look.name == "north lab"; }));
  EXPECT_TRUE(book().stale) << "what begins elsewhere is solved again";
  Key(Qt::Key_Escape);
  window_->easel_view()->setFocus();
  Key(Qt::Key_Z, Qt::ControlModifier);
  ASSERT_TRUE(Until([&] { return book().standing.look.text.empty(); }));
  // A new session says it before anything is solved.
  Key(Qt::Key_N, Qt::ControlModifier);
  auto* add = qobject_cast<AddSlip*>(window_->slip());
  ASSERT_TRUE(add && add->look());
  ASSERT_TRUE(Until([&] { return add->look()->count() == 2; }));
  add->film()->SetFolders({QString::fromStdString((SmallDay() / "film").string())});
  add->session()->setText(QString::fromStdString((folder_ / "next.samelight").string()));
  add->look()->setFocus();
  Key(Qt::Key_Down);
  QTest::mouseClick(add->start(), Qt::LeftButton);
  ASSERT_TRUE(Until([&] {
    return desk() && book().file.filename() == "next.samelight" && book().standing.look.name == "north lab";
  }));
  ASSERT_TRUE(Idle());
  EXPECT_TRUE(Until([&] { return !book().scans.empty(); }));
  qunsetenv("XDG_DATA_HOME");
}

// A table of 49 nodes along each axis takes minutes under a sanitizer.
using LargeSessionWindowTest = SessionWindowTest;

TEST_F(LargeSessionWindowTest, AKeptLookIsWrittenOutForOtherPrograms) {
  fs::create_directories(folder_ / "data");
  qputenv("XDG_DATA_HOME", QByteArray::fromStdString((folder_ / "data").string()));
  Open();
  job::LookLearnRequest request;
  request.name = "north lab";
  ASSERT_TRUE(desk()->StartKeepLook(request));
  ASSERT_TRUE(Idle());
  FromSession({QStringLiteral("The look of the film")});
  auto* slip = qobject_cast<LookSlip*>(window_->slip());
  ASSERT_TRUE(slip);
  ASSERT_TRUE(Until([&] { return slip->begin()->count() == 2; }));
  EXPECT_EQ(slip->which()->currentText(), QStringLiteral("north lab"));
  const fs::path table = folder_ / "north lab.clf";
  slip->table()->setFocus();
  Type(QString::fromStdString(table.string()));
  QTest::mouseClick(slip->write(), Qt::LeftButton);
  EXPECT_FALSE(window_->slip());
  ASSERT_TRUE(Idle());
  // The root element of the Common LUT Format, S-2014-006.
  QFile clf(QString::fromStdString(table.string()));
  ASSERT_TRUE(clf.open(QIODevice::ReadOnly));
  EXPECT_TRUE(clf.readAll().contains("<ProcessList"));
}

TEST_F(SessionWindowTest, ALateRollIsAddedAndTheJobBeforeCanBeStopped) {
  Open();
  const std::size_t scans = book().scans.size(), rolls = book().rolls.size();
  // Another copy of a scan, as a lab would scan it again: other bytes, the same picture.
  fs::create_directories(folder_ / "late roll");
  for (const auto& entry : fs::recursive_directory_iterator(SmallDay() / "film"))
    if (entry.path().extension() == ".jpg") {
      const QImage scan(QString::fromStdString(entry.path().string()));
      ASSERT_TRUE(scan.save(
          QString::fromStdString((folder_ / "late roll" / entry.path().filename()).string()), "JPG", 88));
      break;
    }
  const auto add = [&] {
    FromSession({QStringLiteral("Add a late roll")});
    auto* slip = qobject_cast<AddSlip*>(window_->slip());
    ASSERT_TRUE(slip);
    EXPECT_FALSE(slip->start()->isEnabled());
    slip->film()->edit()->setFocus();
    Type(QString::fromStdString((folder_ / "late roll").string()));
    QTest::mouseClick(slip->start(), Qt::LeftButton);
    EXPECT_FALSE(window_->slip());
  };
  add();
  ASSERT_TRUE(window_->link().desk()->job());
  QAbstractButton* stop = ButtonOf(window_->worklist_band(), QStringLiteral("Stop"));
  ASSERT_TRUE(Until([&] { return stop->isVisible() || !desk()->job(); }));
  if (desk()->job()) QTest::mouseClick(stop, Qt::LeftButton);
  ASSERT_TRUE(Idle());
  add();
  ASSERT_TRUE(Idle());
  EXPECT_TRUE(Until([&] { return book().scans.size() == scans + 1; }));
  EXPECT_EQ(book().rolls.size(), rolls + 1);
}

TEST_F(SessionWindowTest, FoldersDroppedOnAnOpenSessionAskWhatTheyAre) {
  Open();
  QMimeData mime;
  mime.setUrls({QUrl::fromLocalFile(QStringLiteral("/nonexistent"))});
  const auto drop = [&](double y) {
    const QPoint at(600, static_cast<int>(y));
    QDragEnterEvent enter(at, Qt::CopyAction, &mime, Qt::LeftButton, Qt::NoModifier);
    QApplication::sendEvent(window_.get(), &enter);
    QDropEvent e(at, Qt::CopyAction, &mime, Qt::LeftButton, Qt::NoModifier);
    QApplication::sendEvent(window_.get(), &e);
    auto* slip = qobject_cast<AddSlip*>(window_->slip());
    return slip ? static_cast<int>(slip->film()->folders().size()) * 10 +
                      static_cast<int>(slip->digital()->folders().size())
                : 0;
  };
  EXPECT_EQ(drop(100), 10) << "on the scans";
  EXPECT_EQ(drop(600), 1);
  ASSERT_TRUE(window_->slip());
  // What is not there is told as a problem, and the session stays whole.
  QTest::mouseClick(qobject_cast<AddSlip*>(window_->slip())->start(), Qt::LeftButton);
  ASSERT_TRUE(Idle());
  EXPECT_FALSE(book().frames.empty());
}

TEST_F(SessionWindowTest, OrdersAreKeptDeliveredAndDropped) {
  Open();
  window_->easel_view()->setFocus();
  const auto open = [&]() -> DeliverSlip* {
    Key(Qt::Key_D, Qt::ControlModifier);
    return qobject_cast<DeliverSlip*>(window_->slip());
  };
  DeliverSlip* slip = open();
  ASSERT_TRUE(slip);
  EXPECT_FALSE(slip->drop()->isEnabled());
  qobject_cast<QComboBox*>(slip->form()->field(QStringLiteral("format")))
      ->setCurrentText(QStringLiteral("png"));
  auto* side = qobject_cast<QLineEdit*>(slip->form()->field(QStringLiteral("long-side")));
  side->setText(QStringLiteral("many"));
  slip->name()->setText(QStringLiteral("album"));
  QTest::mouseClick(slip->keep(), Qt::LeftButton);
  EXPECT_TRUE(book().standing.orders.empty()) << "a length is no word";
  side->setText(QStringLiteral("240"));
  QTest::mouseClick(slip->keep(), Qt::LeftButton);
  ASSERT_TRUE(Until([&] { return book().standing.orders.count("album") == 1; }));
  EXPECT_EQ(slip->order()->currentText(), QStringLiteral("album"));
  EXPECT_EQ(book().standing.orders.at("album").size.long_side_px, 240);
  slip->out()->SetFolders({QString::fromStdString((folder_ / "out").string())});
  QTest::mouseClick(slip->start(), Qt::LeftButton);
  ASSERT_TRUE(Idle());
  int files = 0;
  for (const auto& entry : fs::directory_iterator(folder_ / "out"))
    if (entry.path().extension() == ".png") {
      ++files;
      const QImage seen(QString::fromStdString(entry.path().string()));
      EXPECT_EQ(std::max(seen.width(), seen.height()), 240);
    }
  EXPECT_EQ(files, static_cast<int>(book().frames.size()));
  // There after a restart, and undone step by step.
  Reopen();
  window_->easel_view()->setFocus();
  slip = open();
  ASSERT_TRUE(slip);
  ASSERT_EQ(slip->order()->count(), 2);
  slip->order()->setFocus();
  Key(Qt::Key_Down);
  EXPECT_EQ(side != nullptr, true);
  EXPECT_EQ(qobject_cast<QLineEdit*>(slip->form()->field(QStringLiteral("long-side")))->text(),
            QStringLiteral("240"));
  QTest::mouseClick(slip->drop(), Qt::LeftButton);
  EXPECT_TRUE(Until([&] { return book().standing.orders.empty(); }));
}

// A visible tile at 100 % holds the pixels of the delivered file. Within 1 of 255: what is on the screen is
// dithered once more (preview/screen.h).
TEST_F(SessionWindowTest, AtFullSizeTheEaselShowsDeliveredPixels) {
  Open();
  const PhotoId frame = TakePaired();
  window_->easel_view()->setFocus();
  job::DeliverOptions options;
  options.fields = {{"format", "png"}};
  options.only = {frame};
  ASSERT_TRUE(desk()->StartDeliver(folder_ / "out", options));
  ASSERT_TRUE(Idle());
  QImage delivered;
  for (const auto& entry : fs::directory_iterator(folder_ / "out"))
    if (entry.path().extension() == ".png") delivered.load(QString::fromStdString(entry.path().string()));
  ASSERT_FALSE(delivered.isNull());
  delivered = delivered.convertToFormat(QImage::Format_RGB32);
  // Zoom at a place that lies between pixels.
  window_->easel().ZoomTo(1, 1, QPointF(101.3, 77.7));
  const auto pane = [&]() -> const Easel::Pane* {
    for (const Easel::Pane& one : window_->easel().panes())
      if (one.stand == Easel::Stand::kFrame) return &one;
    return nullptr;
  };
  ASSERT_TRUE(Until([&] { return pane() && !pane()->soft && !pane()->shown.empty(); }, 600000));
  QTest::qWait(200);
  ASSERT_TRUE(Until([&] { return !pane()->soft; }, 600000));
  const preview::Shown& shown = pane()->shown;
  const preview::View& view = pane()->view;
  EXPECT_EQ(view.zoom, 1);
  int compared = 0, most = 0;
  for (int y = 0; y < shown.height; ++y)
    for (int x = 0; x < shown.width; ++x) {
      const int px = static_cast<int>(std::lround(view.centre.x - shown.width / 2.0)) + x,
                py = static_cast<int>(std::lround(view.centre.y - shown.height / 2.0)) + y;
      if (!delivered.valid(px, py)) continue;
      const QRgb a = shown.argb[static_cast<std::size_t>(y) * shown.width + x], b = delivered.pixel(px, py);
      most = std::max({most, std::abs(qRed(a) - qRed(b)), std::abs(qGreen(a) - qGreen(b)),
                       std::abs(qBlue(a) - qBlue(b))});
      ++compared;
    }
  EXPECT_GT(compared, 40000);
  EXPECT_LE(most, 1);
}

TEST_F(SessionWindowTest, EveryControlOfEverySlipHasAName) {
  Open();
  TakePaired();
  window_->easel_view()->setFocus();
  const auto named = [&](const char* where) {
    QTest::qWait(20);
    for (const QWidget* widget : window_->findChildren<QWidget*>())
      if (widget->focusPolicy() & Qt::TabFocus && widget->isVisible())
        EXPECT_FALSE(widget->accessibleName().isEmpty() &&
                     widget->objectName() != QLatin1String("qt_scrollarea_viewport") &&
                     !(qobject_cast<const QAbstractButton*>(widget) &&
                       !static_cast<const QAbstractButton*>(widget)->text().isEmpty()))
            << where << ": " << widget->metaObject()->className();
  };
  // Something that is wrong, so that there is a slip for it.
  fs::create_directories(folder_ / "odd");
  std::ofstream(folder_ / "odd" / "broken.jpg") << "no picture";
  ASSERT_TRUE(desk()->StartAdd({folder_ / "odd"}, {}));
  ASSERT_TRUE(Idle());
  ASSERT_TRUE(Until([&] { return !book().problems.empty(); }));
  const QString figures =
      book().seen.empty() && book().notes.empty() ? QStringLiteral("Figures") : QStringLiteral("Notes");
  const std::pair<const char*, std::function<void()>> slips[] = {
      {"keys", [&] { Key(Qt::Key_F1); }},
      {"carry", [&] { Key(Qt::Key_C); }},
      {"deliver", [&] { Key(Qt::Key_D, Qt::ControlModifier); }},
      {"new", [&] { Key(Qt::Key_N, Qt::ControlModifier); }},
      {"settings", [&] { FromSession({QStringLiteral("Settings")}); }},
      {"look", [&] { FromSession({QStringLiteral("The look of the film")}); }},
      {"rolls", [&] { FromSession({QStringLiteral("Rolls and clocks")}); }},
      {"notes", [&] { FromSession({figures}); }},
      {"problems", [&] { FromSession({QStringLiteral("Problems")}); }},
      {"framing",
       [&] {
         LoomView* loom = window_->loom();
         Choose([&] { MenuAt(loom, loom->FrameBox(0).center()); }, {QStringLiteral("Turn, straighten, cut")});
       }},
      {"late roll", [&] { FromSession({QStringLiteral("Add a late roll")}); }}};
  for (const auto& [where, show] : slips) {
    window_->easel_view()->setFocus();
    show();
    ASSERT_TRUE(window_->slip()) << where;
    named(where);
    // Tab comes round to where it began, inside the slip.
    QWidget* first = QApplication::focusWidget();
    for (int i = 0; i < 80; ++i) {
      Key(Qt::Key_Tab);
      ASSERT_TRUE(window_->slip()->isAncestorOf(QApplication::focusWidget()) ||
                  QApplication::focusWidget() == window_->slip())
          << where;
      if (QApplication::focusWidget() == first) break;
    }
    Key(Qt::Key_Escape);
    ASSERT_FALSE(window_->slip()) << where;
  }
  named("window");
}

TEST_F(SessionWindowTest, TabReachesEveryControlOfTheWindow) {
  Open();
  TakePaired();
  QTest::qWait(50);
  std::set<const QWidget*> reached;
  window_->worklist_band()->session_button()->setFocus(Qt::TabFocusReason);
  for (int i = 0; i < 120; ++i) {
    reached.insert(QApplication::focusWidget());
    Key(Qt::Key_Tab);
  }
  for (const QWidget* widget : window_->findChildren<QWidget*>())
    if (widget->focusPolicy() & Qt::TabFocus && widget->isVisible() && widget->isEnabled())
      EXPECT_TRUE(reached.contains(widget))
          << widget->metaObject()->className() << " " << widget->accessibleName().toStdString();
}

// Run again by the test below, at another density.
TEST_F(SessionWindowTest, PicturesComeInTheScreensOwnPixels) {
  const double ratio = qEnvironmentVariableIntValue("SAMELIGHT_TEST_DENSITY") / 100.0;
  if (ratio > 0) EXPECT_NEAR(window_->devicePixelRatioF(), ratio, 1e-6);
  window_->resize(1280, 800);
  Open();
  TakePaired();
  ASSERT_TRUE(Until([&] {
    for (const Easel::Pane& pane : window_->easel().panes())
      if (pane.shown.empty()) return false;
    return !window_->easel().panes().empty();
  }));
  const double r = window_->devicePixelRatioF();
  for (const Easel::Pane& pane : window_->easel().panes()) {
    EXPECT_NEAR(pane.shown.width, pane.box.width() * r, 1);
    EXPECT_NEAR(pane.shown.height, pane.box.height() * r, 1);
  }
  const QImage seen = window_->grab().toImage();
  EXPECT_EQ(seen.width(), std::lround(1280 * r));
  EXPECT_GE(window_->easel_view()->height(), 300);
}

TEST_F(SessionWindowTest, WorksAtOneAndAHalfAndTwiceTheDensity) {
  for (const char* density : {"150", "200"}) {
    QProcess again;
    QProcessEnvironment environment = QProcessEnvironment::systemEnvironment();
    environment.insert(QStringLiteral("QT_SCALE_FACTOR"),
                       QString::number(QByteArray(density).toInt() / 100.0));
    environment.insert(QStringLiteral("SAMELIGHT_TEST_DENSITY"), QString::fromLatin1(density));
    again.setProcessEnvironment(environment);
    again.start(QStringLiteral("/proc/self/exe"),
                {QStringLiteral("--gtest_filter=*PicturesComeInTheScreensOwnPixels")});
    ASSERT_TRUE(again.waitForFinished(120000));
    EXPECT_EQ(again.exitCode(), 0) << density << again.readAllStandardOutput().toStdString();
  }
}

}  // namespace
}  // namespace samelight::window
