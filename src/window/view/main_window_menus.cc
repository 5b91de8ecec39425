// The menus of the worklist and of the instruments.
#include <algorithm>

#include <QtCore/QSettings>
#include <QtWidgets/QLineEdit>
#include <QtWidgets/QMenu>
#include <QtWidgets/QWidgetAction>

#include "window/model/recent_sessions.h"
#include "window/view/main_window.h"
#include "window/view/screen_profile.h"

namespace samelight::window {

void MainWindow::SessionMenu(QPoint at) {
  QMenu menu(this);
  const bool open = link_.desk() != nullptr, matched = open && link_.book()->matched;
  menu.addAction(tr("New session\tCtrl+N"), [this] { AskNew({}, {}); });
  menu.addAction(tr("Open a session\tCtrl+O"), [this] { AskOpen(); });
  QMenu* lately = menu.addMenu(tr("Lately"));
  for (const std::filesystem::path& file : RecentSessions(recent_))
    lately->addAction(QString::fromStdString(file.string()), [this, file] { link_.OpenSoon(file); });
  lately->setEnabled(!lately->isEmpty());
  menu.addSeparator();
  menu.addAction(tr("Add a late roll, or frames"),
                 [this] {
                   auto* slip = new AddSlip(false, this);
                   connect(slip, &AddSlip::wanted, this, &MainWindow::NewSession);
                   ShowSlip(slip);
                 })
      ->setEnabled(open);
  const bool stale = open && (link_.book()->stale || !matched);
  menu.addAction(stale ? tr("Bring up to date\tU") : tr("Up to date\tU"), [this] { Update(); })
      ->setEnabled(stale);
  menu.addAction(tr("Deliver\tCtrl+D"), [this] { AskDeliver(); })->setEnabled(matched);
  menu.addAction(tr("Proof sheet for the photographer"), [this] { ProofSheet(); })->setEnabled(matched);
  menu.addSeparator();
  QString last, next;
  for (const session::HistoryEntry& entry : link_.book()->history) {
    if (entry.standing)
      last = QString::fromStdString(entry.what);
    else if (next.isEmpty())
      next = QString::fromStdString(entry.what);
  }
  menu.addAction(last.isEmpty() ? tr("Undo\tCtrl+Z") : tr("Undo: %1\tCtrl+Z").arg(last),
                 [this] { Undo(true); })
      ->setEnabled(open && link_.desk()->CanUndo());
  menu.addAction(next.isEmpty() ? tr("Redo\tCtrl+Shift+Z") : tr("Redo: %1\tCtrl+Shift+Z").arg(next),
                 [this] { Undo(false); })
      ->setEnabled(open && link_.desk()->CanRedo());
  menu.addSeparator();
  const int problems = problems_.rowCount();
  menu.addAction(problems == 0 ? tr("No problems") : tr("Problems: %1").arg(problems),
                 [this] { ShowSlip(new ProblemsSlip(problems_, this)); })
      ->setEnabled(problems > 0);
  const int seen = open ? static_cast<int>(link_.book()->seen.size() + link_.book()->notes.size()) : 0;
  menu.addAction(seen == 0 ? tr("Figures") : tr("Notes: %1, and figures").arg(seen),
                 [this] {
                   auto* slip = new NotesSlip(&link_, this);
                   connect(slip, &NotesSlip::photoWanted, this, [this](PhotoId photo) { hand_.Take(photo); });
                   ShowSlip(slip);
                 })
      ->setEnabled(open);
  menu.addAction(tr("Rolls and clocks"), [this] { ShowSlip(new RollsSlip(&link_, -1, this)); })
      ->setEnabled(open);
  menu.addAction(tr("The look of the film"),
                 [this] {
                   auto* slip = new LookSlip(&link_, this);
                   connect(slip, &LookSlip::keepWanted, this, [this](const job::LookLearnRequest& request) {
                     CloseSlip();
                     TellUnlessStarted(link_.desk()->StartKeepLook(request));
                   });
                   connect(slip, &LookSlip::exportWanted, this,
                           [this](const job::LookExportRequest& request) {
                             CloseSlip();
                             TellUnlessStarted(link_.desk()->StartExportLook(request));
                           });
                   ShowSlip(slip);
                 })
      ->setEnabled(open);
  menu.addAction(tr("Settings"), [this] {
    auto* slip = new SettingsSlip(&link_, easel_.soft_proof(), !ProfileOf(screen()).isEmpty(), this);
    connect(slip, &SettingsSlip::softProofWanted, this, [this, slip](bool on, const QString& file) {
      QSettings().setValue(QStringLiteral("proof"), file);
      slip->ShowProof(SoftProof(on));
    });
    connect(slip, &SettingsSlip::monitorWanted, this, [this](const QString& file) {
      QSettings().setValue(QStringLiteral("monitor"), file);
      ApplyMonitor();
    });
    connect(slip, &SettingsSlip::motionWanted, this, [](bool on) {
      theme::SetMotion(on);
      QSettings().setValue(QStringLiteral("motion"), on);
    });
    ShowSlip(slip);
  });
  menu.addAction(tr("Keys\tF1"), [this] { ShowSlip(new KeysSlip(this)); });
  menu.addSeparator();
  menu.addAction(tr("Close the session"), [this] { link_.Close(); })->setEnabled(open);
  menu.addAction(tr("Leave\tCtrl+Q"), [this] { close(); });
  menu.ensurePolished();
  menu.exec(at - QPoint(menu.sizeHint().width(), 0));
}

void MainWindow::FilterMenu(QPoint at) {
  if (!link_.desk()) return;
  QMenu menu(this);
  const WorklistFilter now = worklist_.filter();
  const std::shared_ptr<const job::Book> book = link_.book();
  const auto set = [this](const auto& change) {
    WorklistFilter filter = worklist_.filter();
    change(filter);
    worklist_.SetFilter(filter);
    if (!worklist_.rowCount()) worklist_band_->Say(tr("No frame is left with these."));
  };
  menu.addAction(tr("All of them"),
                 [this, which = now.which] {
                   WorklistFilter filter;
                   filter.which = which;
                   worklist_.SetFilter(filter);
                 })
      ->setEnabled(now != WorklistFilter{now.which, {}, {}, {}, {}});
  QMenu* lights = menu.addMenu(tr("One light"));
  for (std::size_t i = 0; i < book->lights.size(); ++i)
    lights->addAction(QString::fromStdString(book->lights[i].name),
                      [set, i] { set([i](WorklistFilter& f) { f.light = static_cast<int>(i); }); });
  QMenu* rolls = menu.addMenu(tr("One roll"));
  for (std::size_t i = 0; i < book->rolls.size(); ++i)
    rolls->addAction(QString::fromStdString(book->rolls[i].name),
                     [set, i] { set([i](WorklistFilter& f) { f.roll = static_cast<int>(i); }); });
  QMenu* sources = menu.addMenu(tr("One source"));
  for (const QString& source : worklist_.Sources())
    sources->addAction(source, [set, source] { set([source](WorklistFilter& f) { f.source = source; }); });
  QMenu* reasons = menu.addMenu(tr("One reason"));
  for (const QString& reason : worklist_.Reasons())
    reasons->addAction(reason, [set, reason] { set([reason](WorklistFilter& f) { f.reason = reason; }); });
  menu.exec(at);
}

void MainWindow::StatesMenu(QPoint at) {
  if (!link_.desk() || !hand_.frame().valid()) return;
  const PhotoId frame = hand_.frame();
  QMenu menu(this);
  auto* keep = new QWidgetAction(&menu);
  auto* edit = new QLineEdit;
  edit->setPlaceholderText(tr("keep as it is, called …"));
  edit->setAccessibleName(tr("name of the state to keep"));
  edit->setMinimumWidth(200);
  keep->setDefaultWidget(edit);
  menu.addAction(keep);
  connect(edit, &QLineEdit::returnPressed, &menu, [this, edit, frame, &menu] {
    const QString name = edit->text().trimmed();
    if (!name.isEmpty()) link_.desk()->KeepState(frame, name.toStdString());
    menu.close();
  });
  // Of all that are chosen where the frame in hand is one of them.
  std::vector<PhotoId> frames = Selection();
  if (std::find(frames.begin(), frames.end(), frame) == frames.end()) frames = {frame};
  const bool touched = std::any_of(frames.begin(), frames.end(), [this](PhotoId id) {
    return link_.desk()->TouchOf(id) != record::Handles{};
  });
  menu.addAction(frames.size() > 1 ? tr("As solved, all %1 chosen").arg(frames.size()) : tr("As solved"),
                 [this, frames] { link_.desk()->Untouch(frames); })
      ->setEnabled(touched);
  const std::vector<session::KeptState> states = link_.desk()->States(frame);
  if (!states.empty()) menu.addSeparator();
  for (const session::KeptState& state : states) {
    QMenu* one = menu.addMenu(QString::fromStdString(state.name));
    one->addAction(tr("Take it up"),
                   [this, frame, name = state.name] { link_.desk()->TakeUpState(frame, name); });
    // Shown while it is pointed at, and given up with the menu.
    QAction* look = one->addAction(tr("Look at it"));
    connect(look, &QAction::hovered, this, [this, name = state.name] { instruments_.TryState(name); });
    one->addAction(tr("Drop it"), [this, frame, name = state.name] { link_.desk()->DropState(frame, name); });
  }
  edit->setFocus();
  menu.exec(at - QPoint(0, menu.sizeHint().height()));
  if (instruments_.trying()) instruments_.GiveUp();
}

}  // namespace samelight::window
