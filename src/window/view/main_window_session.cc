// Sessions, the work on them, and the slips that ask for it.
#include <QtCore/QDir>
#include <QtCore/QFile>
#include <QtCore/QSettings>
#include <QtCore/QTimer>
#include <QtGui/QDesktopServices>
#include <QtWidgets/QFileDialog>
#include <QtWidgets/QLineEdit>
#include <QtWidgets/QMenu>
#include <QtWidgets/QWidgetAction>

#include "window/model/recent_sessions.h"
#include "window/view/main_window.h"

namespace samelight::window {
namespace {

std::vector<std::filesystem::path> Paths(const QStringList& list) {
  std::vector<std::filesystem::path> out;
  for (const QString& path : list) out.emplace_back(path.toStdString());
  return out;
}

}  // namespace

bool MainWindow::OpenSession(const std::filesystem::path& file) {
  const Status opened = link_.Open(file);
  if (!opened.ok()) {
    worklist_band_->Say(QString::fromStdString(opened.error().Text()));
    return false;
  }
  return true;
}

void MainWindow::Opened() {
  const bool open = link_.desk() != nullptr;
  CloseSlip();
  sheet_view_->hide();
  easel_view_->setVisible(open);
  loom_->setVisible(open);
  instruments_band_->setVisible(open);
  welcome_->setVisible(!open);
  thumbs_.Clear();
  waiting_thumbs_.clear();
  thumbs_came_ = false;
  delivered_.clear();
  if (open) {
    setWindowTitle(tr("%1 – Samelight").arg(QString::fromStdString(link_.book()->file.parent_path().filename().string())));
    RememberSession(recent_, link_.book()->file);
    RebuildLoom();
    const bool seen = QSettings().value(QStringLiteral("ribbon-hint-seen"), false).toBool();
    loom_->SetHint(seen || link_.book()->scans.empty()
                       ? QString()
                       : tr("Each ribbon ties a scan to the frame of the same moment. Drag an end to correct it."));
    easel_view_->setFocus();
  } else {
    setWindowTitle(tr("Samelight"));
    welcome_->SetRecent(RecentSessions(recent_));
  }
  Arrange();
}

void MainWindow::ShowSlip(Slip* slip) {
  if (!slip_) before_slip_ = focusWidget();
  if (slip_) slip_->deleteLater();
  slip_ = slip;
  connect(slip, &Slip::closed, this, &MainWindow::CloseSlip);
  slip->PlaceIn(QRect(0, bands_.worklist, width(), height() - bands_.worklist), bands_.worklist + bands_.loom());
  slip->show();
  slip->raise();
  slip->setFocus();
  QTimer::singleShot(0, slip, [slip] {
    // The first thing that can be typed into, else the slip itself.
    if (auto* edit = slip->findChild<QLineEdit*>()) edit->setFocus();
  });
}

void MainWindow::CloseSlip() {
  if (!slip_) return;
  slip_->hide();
  slip_->deleteLater();
  slip_ = nullptr;
  if (before_slip_ && before_slip_->isVisible()) before_slip_->setFocus();
}

void MainWindow::AskNew(const QStringList& film, const QStringList& digital) {
  auto* slip = new AddSlip(true, this);
  slip->film()->SetFolders(film);
  slip->digital()->SetFolders(digital);
  connect(slip, &AddSlip::wanted, this, &MainWindow::NewSession);
  ShowSlip(slip);
}

// An empty `file`: into the session that is open.
void MainWindow::NewSession(const QStringList& film, const QStringList& digital, const QString& file) {
  if (!file.isEmpty()) {
    const Status opened = link_.Open(file.toStdString(), session::Access::kCreate);
    if (!opened.ok()) return worklist_band_->Say(QString::fromStdString(opened.error().Text()));
  }
  CloseSlip();
  if (!link_.desk()->StartAdd(Paths(film), Paths(digital)))
    worklist_band_->Say(tr("Another job is in work. Stop it, or wait for its end."));
}

void MainWindow::AskOpen() {
  const QString file = QFileDialog::getOpenFileName(this, tr("Open a session"), QString(), tr("Sessions (*.samelight)"));
  if (!file.isEmpty()) OpenSession(file.toStdString());
}

void MainWindow::AskDeliver() {
  if (!link_.desk() || !link_.book()->matched) return;
  auto* slip = new DeliverSlip(*link_.book(), Selection(), this);
  connect(slip, &DeliverSlip::wanted, this, [this](const QString& out, const job::DeliverOptions& options) {
    CloseSlip();
    delivered_ = out.toStdString();
    if (!link_.desk()->StartDeliver(delivered_, options)) worklist_band_->Say(tr("Another job is in work. Stop it, or wait for its end."));
  });
  ShowSlip(slip);
}

void MainWindow::AskCarry() {
  const job::FrameRow* row = link_.book()->Frame(hand_.frame());
  if (!link_.desk() || !row || !row->solved) return;
  if (instruments_.trying()) instruments_.Keep();
  auto* slip = new CarrySlip(&link_, &hand_, Selection(), &thumbs_, this);
  connect(slip, &CarrySlip::carried, this, [this](int frames) {
    CloseSlip();
    worklist_band_->Say(frames == 1 ? tr("Carried to 1 frame.") : tr("Carried to %1 frames.").arg(frames));
  });
  ShowSlip(slip);
}

void MainWindow::CarryToLight(std::vector<record::Handle> handles) {
  const job::FrameRow* row = link_.book()->Frame(hand_.frame());
  if (!link_.desk() || !row || !row->solved) return;
  if (instruments_.trying()) instruments_.Keep();
  job::Carry carry;
  carry.from = hand_.frame();
  carry.to = job::Carry::To::kLight;
  carry.handles = std::move(handles);
  const std::size_t frames = link_.desk()->Reach(carry).size();
  link_.desk()->DoCarry(carry);
  worklist_band_->Say(frames == 1 ? tr("Carried to 1 frame of this light.") : tr("Carried to %1 frames of this light.").arg(frames));
}

void MainWindow::Update() {
  if (!link_.desk()) return;
  if (!link_.desk()->StartUpdate()) worklist_band_->Say(tr("Another job is in work. Stop it, or wait for its end."));
}

void MainWindow::ProofSheet() {
  if (!link_.desk()) return;
  const std::filesystem::path folder = link_.book()->file.parent_path() / "proof sheet";
  if (!link_.desk()->StartProofSheet(folder)) worklist_band_->Say(tr("Another job is in work. Stop it, or wait for its end."));
}

void MainWindow::Undo(bool undo) {
  if (!link_.desk()) return;
  if (instruments_.trying()) return instruments_.GiveUp();
  undo ? link_.desk()->Undo() : link_.desk()->Redo();
}

void MainWindow::JobEnded(const job::JobEnded& end) {
  QString told = QString::fromStdString(end.what);
  if (!end.status.ok() && end.status.error().code == ErrorCode::kCancelled)
    return worklist_band_->Say(tr("Stopped. What was finished is kept; the same again goes on from there."));
  if (!end.status.ok()) return worklist_band_->Say(QString::fromStdString(end.status.error().Text()));
  QStringList lines;
  for (const std::string& line : end.told) lines += QString::fromStdString(line);
  if (!lines.isEmpty()) told = lines.join(QStringLiteral("; "));
  if (!end.problems.empty()) told += tr("; %1 problems, see the session's menu").arg(end.problems.size());
  worklist_band_->Say(told);
}

void MainWindow::SetMonitor(const QString& icc_file) {
  std::vector<std::uint8_t> icc;
  if (!icc_file.isEmpty()) {
    QFile file(icc_file);
    if (!file.open(QIODevice::ReadOnly)) return worklist_band_->Say(tr("This profile cannot be read: %1").arg(icc_file));
    const QByteArray bytes = file.readAll();
    icc.assign(bytes.begin(), bytes.end());
  }
  const Status set = link_.pictures().SetMonitor(icc);
  if (!set.ok()) return worklist_band_->Say(QString::fromStdString(set.error().Text()));
  QSettings().setValue(QStringLiteral("monitor"), icc_file);
}

void MainWindow::SessionMenu(QPoint at) {
  QMenu menu(this);
  const bool open = link_.desk() != nullptr, matched = open && link_.book()->matched;
  menu.addAction(tr("New session\tCtrl+N"), [this] { AskNew({}, {}); });
  menu.addAction(tr("Open a session\tCtrl+O"), [this] { AskOpen(); });
  QMenu* lately = menu.addMenu(tr("Lately"));
  for (const std::filesystem::path& file : RecentSessions(recent_))
    lately->addAction(QString::fromStdString(file.string()), [this, file] { OpenSession(file); });
  lately->setEnabled(!lately->isEmpty());
  menu.addSeparator();
  menu.addAction(tr("Add a late roll, or frames"), [this] {
    auto* slip = new AddSlip(false, this);
    connect(slip, &AddSlip::wanted, this, &MainWindow::NewSession);
    ShowSlip(slip);
  })->setEnabled(open);
  const bool stale = open && (link_.book()->stale || !matched);
  menu.addAction(stale ? tr("Bring up to date\tU") : tr("Up to date\tU"), [this] { Update(); })->setEnabled(stale);
  menu.addAction(tr("Deliver\tCtrl+D"), [this] { AskDeliver(); })->setEnabled(matched);
  menu.addAction(tr("Proof sheet for the photographer"), [this] { ProofSheet(); })->setEnabled(matched);
  menu.addSeparator();
  QString last, next;
  for (const session::HistoryEntry& entry : link_.book()->history) {
    if (entry.standing) last = QString::fromStdString(entry.what);
    else if (next.isEmpty()) next = QString::fromStdString(entry.what);
  }
  menu.addAction(last.isEmpty() ? tr("Undo\tCtrl+Z") : tr("Undo: %1\tCtrl+Z").arg(last), [this] { Undo(true); })
      ->setEnabled(open && link_.desk()->CanUndo());
  menu.addAction(next.isEmpty() ? tr("Redo\tCtrl+Shift+Z") : tr("Redo: %1\tCtrl+Shift+Z").arg(next), [this] { Undo(false); })
      ->setEnabled(open && link_.desk()->CanRedo());
  menu.addSeparator();
  const int problems = problems_.rowCount();
  menu.addAction(problems == 0 ? tr("No problems") : tr("Problems: %1").arg(problems), [this] { ShowSlip(new ProblemsSlip(problems_, this)); })
      ->setEnabled(problems > 0);
  menu.addAction(tr("Settings"), [this] {
    auto* slip = new SettingsSlip(&link_, easel_.soft_proof(), this);
    connect(slip, &SettingsSlip::softProofWanted, this, [this](bool on) { easel_.SetSoftProof(on); });
    connect(slip, &SettingsSlip::monitorWanted, this, &MainWindow::SetMonitor);
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
  menu.addAction(tr("All of them"), [this, which = now.which] {
    WorklistFilter filter;
    filter.which = which;
    worklist_.SetFilter(filter);
  })->setEnabled(now != WorklistFilter{now.which, {}, {}, {}, {}});
  QMenu* lights = menu.addMenu(tr("One light"));
  for (std::size_t i = 0; i < book->lights.size(); ++i)
    lights->addAction(QString::fromStdString(book->lights[i].name),
                      [set, i] { set([i](WorklistFilter& f) { f.light = static_cast<int>(i); }); });
  QMenu* rolls = menu.addMenu(tr("One roll"));
  for (std::size_t i = 0; i < book->rolls.size(); ++i)
    rolls->addAction(QString::fromStdString(book->rolls[i].name), [set, i] { set([i](WorklistFilter& f) { f.roll = static_cast<int>(i); }); });
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
  const std::vector<session::KeptState> states = link_.desk()->States(frame);
  if (!states.empty()) menu.addSeparator();
  for (const session::KeptState& state : states) {
    QMenu* one = menu.addMenu(QString::fromStdString(state.name));
    one->addAction(tr("Take it up"), [this, frame, name = state.name] { link_.desk()->TakeUpState(frame, name); });
    // Shown while it is pointed at, and given up with the menu.
    QAction* look = one->addAction(tr("Look at it"));
    connect(look, &QAction::hovered, this, [this, touch = state.touch] { instruments_.Try(touch); });
    one->addAction(tr("Drop it"), [this, frame, name = state.name] { link_.desk()->DropState(frame, name); });
  }
  edit->setFocus();
  menu.exec(at - QPoint(0, menu.sizeHint().height()));
  if (instruments_.trying()) instruments_.GiveUp();
}

}  // namespace samelight::window
