// Sessions, the work on them, and the slips that ask for it.
#include <utility>

#include <QtCore/QDir>
#include <QtCore/QFile>
#include <QtCore/QSettings>
#include <QtCore/QTimer>
#include <QtWidgets/QFileDialog>
#include <QtWidgets/QLineEdit>

#include "window/model/recent_sessions.h"
#include "window/view/main_window.h"
#include "window/view/screen_profile.h"

namespace samelight::window {
namespace {

std::vector<std::filesystem::path> Paths(const QStringList& list) {
  std::vector<std::filesystem::path> out;
  for (const QString& path : list) out.emplace_back(path.toStdString());
  return out;
}

}  // namespace

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
    setWindowTitle(tr("%1 – Samelight")
                       .arg(QString::fromStdString(link_.book()->file.parent_path().filename().string())));
    RememberSession(recent_, link_.book()->file);
    RebuildLoom();
    WantThumbnails();
    const bool seen = QSettings().value(QStringLiteral("ribbon-hint-seen"), false).toBool();
    loom_->SetHint(
        seen || link_.book()->scans.empty()
            ? QString()
            : tr("Each ribbon ties a scan to the frame of the same moment. Drag an end to correct it."));
    easel_view_->setFocus();
  } else {
    setWindowTitle(tr("Samelight"));
    welcome_->SetRecent(RecentSessions(recent_));
    welcome_->setFocus();
  }
  Arrange();
  std::error_code ec;
  if (open && begun_ && std::filesystem::equivalent(begun_->file, link_.book()->file, ec)) {
    const Begun begun = *std::exchange(begun_, std::nullopt);
    const Status taken =
        begun.look.isEmpty() ? Status() : link_.desk()->TakeLook({begun.look.toStdString(), {}});
    if (!taken.ok()) worklist_band_->Say(QString::fromStdString(taken.error().Text()));
    StartAdd(begun.film, begun.digital);
  }
}

void MainWindow::ShowSlip(Slip* slip) {
  if (!slip_) before_slip_ = focusWidget();
  if (slip_) slip_->deleteLater();
  slip_ = slip;
  connect(slip, &Slip::closed, this, &MainWindow::CloseSlip);
  slip->PlaceIn(QRect(0, bands_.worklist, width(), height() - bands_.worklist),
                bands_.worklist + bands_.loom());
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

void MainWindow::NewSession(const QStringList& film, const QStringList& digital, const QString& file,
                            const QString& look) {
  CloseSlip();
  if (file.isEmpty()) return StartAdd(film, digital);
  begun_ = Begun{std::filesystem::absolute(file.toStdString()), film, digital, look};
  link_.OpenSoon(begun_->file, session::Access::kCreate);
}

void MainWindow::StartAdd(const QStringList& film, const QStringList& digital) {
  if (link_.desk()) TellUnlessStarted(link_.desk()->StartAdd(Paths(film), Paths(digital)));
}

void MainWindow::TellUnlessStarted(bool started) {
  if (!started) worklist_band_->Say(tr("Another job is in work. Stop it, or wait for its end."));
}

void MainWindow::AskOpen() {
  const QString file =
      QFileDialog::getOpenFileName(this, tr("Open a session"), QString(), tr("Sessions (*.samelight)"));
  if (!file.isEmpty()) link_.OpenSoon(file.toStdString());
}

void MainWindow::AskDeliver() {
  if (!link_.desk() || !link_.book()->matched) return;
  auto* slip = new DeliverSlip(&link_, Selection(), this);
  connect(slip, &DeliverSlip::approved, this, [this](const QString& order) {
    CloseSlip();
    TellUnlessStarted(link_.desk()->StartApprove(order.toStdString()));
  });
  connect(slip, &DeliverSlip::wanted, this, [this](const QString& out, const job::DeliverOptions& options) {
    CloseSlip();
    delivered_ = out.toStdString();
    TellUnlessStarted(link_.desk()->StartDeliver(delivered_, options));
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
  worklist_band_->Say(frames == 1 ? tr("Carried to 1 frame of this light.")
                                  : tr("Carried to %1 frames of this light.").arg(frames));
}

void MainWindow::Update() {
  if (link_.desk()) TellUnlessStarted(link_.desk()->StartUpdate());
}

void MainWindow::ProofSheet() {
  if (!link_.desk()) return;
  const std::filesystem::path folder = link_.book()->file.parent_path();
  TellUnlessStarted(link_.desk()->StartProofSheet(folder));
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
  if (!end.made.empty() && lines.isEmpty())
    told = tr("Made: %1").arg(QString::fromStdString(end.made.string()));
  if (!lines.isEmpty()) told = lines.join(QStringLiteral("; "));
  if (!told.isEmpty()) told[0] = told[0].toUpper();
  if (!end.problems.empty())
    told += end.problems.size() == 1 ? tr("; 1 problem, see the session's menu")
                                     : tr("; %1 problems, see the session's menu").arg(end.problems.size());
  worklist_band_->Say(told);
}

// What a profile's file holds; empty when none is named or it cannot be read.
QByteArray MainWindow::NamedProfile(const QString& name) {
  if (name.isEmpty()) return {};
  QFile file(name);
  if (file.open(QIODevice::ReadOnly)) return file.readAll();
  worklist_band_->Say(tr("This profile cannot be read: %1").arg(name));
  return {};
}

bool MainWindow::SoftProof(bool on) {
  const QString named = on ? QSettings().value(QStringLiteral("proof")).toString() : QString();
  const QByteArray icc = NamedProfile(named);
  bool shown = on && (named.isEmpty() || !icc.isEmpty());
  const Status set = easel_.SetSoftProof(shown, {icc.begin(), icc.end()});
  if (!set.ok()) {
    worklist_band_->Say(QString::fromStdString(set.error().Text()));
    shown = false;
    static_cast<void>(easel_.SetSoftProof(false));
  }
  return shown;
}

// The chosen profile outranks what the system tells of the monitor.
void MainWindow::ApplyMonitor() {
  QByteArray icc = NamedProfile(QSettings().value(QStringLiteral("monitor")).toString());
  if (icc.isEmpty()) icc = ProfileOf(screen());
  if (icc == monitor_) return;
  const Status set = link_.pictures().SetMonitor({icc.begin(), icc.end()});
  if (!set.ok()) return worklist_band_->Say(QString::fromStdString(set.error().Text()));
  monitor_ = icc;
  easel_.AskAll();
}

}  // namespace samelight::window
