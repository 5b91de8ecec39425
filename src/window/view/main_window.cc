#include "window/view/main_window.h"

#include <QtCore/QMimeData>
#include <QtCore/QSettings>
#include <QtCore/QUrl>
#include <QtGui/QDragEnterEvent>
#include <QtGui/QKeyEvent>
#include <QtGui/QWindow>
#include <QtWidgets/QApplication>
#include <QtWidgets/QLineEdit>

namespace samelight::window {

MainWindow::MainWindow(std::filesystem::path recent)
    : hand_(&link_),
      instruments_(&link_),
      worklist_(&link_),
      easel_(&link_, &hand_, &instruments_),
      sheet_(&link_, &hand_),
      problems_(&link_),
      recent_(std::move(recent)),
      bands_(theme::BandsFor(1600, 1000)) {
  setWindowTitle(tr("Samelight"));
  setMinimumSize(1120, 700);
  setAcceptDrops(true);
  worklist_band_ = new WorklistBand(&link_, &hand_, &worklist_, this);
  loom_ = new LoomView(&thumbs_, this);
  easel_view_ = new EaselView(&easel_, this);
  sheet_view_ = new SheetView(&sheet_, &hand_, &thumbs_, this);
  sheet_view_->hide();
  instruments_band_ = new InstrumentsBand(&link_, &instruments_, this);
  welcome_ = new Welcome(this);
  setTabOrder(worklist_band_, loom_);
  setTabOrder(loom_, easel_view_);
  setTabOrder(easel_view_, sheet_view_);
  setTabOrder(sheet_view_, instruments_band_->plane());
  setTabOrder(instruments_band_->plane(), instruments_band_->tone());
  setTabOrder(instruments_band_->tone(), instruments_band_->left_over());
  setTabOrder(instruments_band_->left_over(), instruments_band_->correction()->follow());

  connect(&hand_, &Hand::changed, this, &MainWindow::FollowHand);
  connect(worklist_band_, &WorklistBand::sessionWanted, this, &MainWindow::SessionMenu);
  connect(worklist_band_, &WorklistBand::filterWanted, this, &MainWindow::FilterMenu);
  connect(worklist_band_, &WorklistBand::deliverWanted, this, &MainWindow::AskDeliver);
  connect(worklist_band_, &WorklistBand::updateWanted, this, &MainWindow::Update);
  connect(worklist_band_, &WorklistBand::stopWanted, this, [this] {
    if (link_.desk()) link_.desk()->CancelJob();
  });
  connect(welcome_, &Welcome::newWanted, this, [this] { AskNew({}, {}); });
  connect(welcome_, &Welcome::openWanted, this, &MainWindow::AskOpen);
  connect(welcome_, &Welcome::recentWanted, this,
          [this](const QString& file) { link_.OpenSoon(file.toStdString()); });
  connect(welcome_, &Welcome::dropped, this, [this](const QStringList& paths, bool film) {
    if (auto* add = qobject_cast<AddSlip*>(slip_)) {
      FolderField* field = film ? add->film() : add->digital();
      field->SetFolders(field->folders() + paths);
    } else {
      film ? AskNew(paths, {}) : AskNew({}, paths);
    }
  });
  connect(&link_, &DeskLink::opened, this, &MainWindow::Opened);
  connect(&link_, &DeskLink::jobEnded, this, &MainWindow::JobEnded);
  connect(&link_, &DeskLink::trouble, worklist_band_, &WorklistBand::Say);
  connect(&link_, &DeskLink::couldNotOpen, worklist_band_, &WorklistBand::Say);
  connect(&link_, &DeskLink::turned, this, [this](bool undone, const QString& what) {
    worklist_band_->Say(what.isEmpty()
                            ? (undone ? tr("There is nothing to undo.") : tr("There is nothing to redo."))
                            : (undone ? tr("Undone: %1") : tr("Redone: %1")).arg(what));
  });
  CorrectionView* correction = instruments_band_->correction();
  connect(correction, &CorrectionView::carryWanted, this, &MainWindow::AskCarry);
  connect(correction, &CorrectionView::carryOneToLight, this,
          [this](record::Handle handle) { CarryToLight({handle}); });
  connect(correction, &CorrectionView::statesWanted, this, &MainWindow::StatesMenu);
  connect(sheet_view_, &SheetView::closed, this, &MainWindow::ToggleSheet);
  connect(sheet_view_, &SheetView::taken, this, [this](PhotoId frame) { hand_.TakeFrame(frame); });
  connect(sheet_view_, &SheetView::chosenChanged, this, [this](const std::vector<PhotoId>& frames) {
    std::set<int> chosen;
    for (std::size_t i = 0; i < loom_->loom().frames.size(); ++i)
      if (std::find(frames.begin(), frames.end(), loom_->loom().frames[i].id) != frames.end())
        chosen.insert(static_cast<int>(i));
    loom_->SetSelection(std::move(chosen));
  });
  connect(instruments_band_, &InstrumentsBand::regionPointed, this, &MainWindow::OutlineRegion);
  ConnectLoom();
  theme::SetMotion(QSettings().value(QStringLiteral("motion"), true).toBool());
  ApplyMonitor();
  Opened();
}

// What is seen is put away while everything that it asks is still there.
MainWindow::~MainWindow() { hide(); }

void MainWindow::Arrange() {
  bands_ = theme::BandsFor(width(), height());
  worklist_band_->SetBands(bands_);
  worklist_band_->setGeometry(0, 0, width(), bands_.worklist);
  const QRect below(0, bands_.worklist, width(), height() - bands_.worklist);
  welcome_->setGeometry(below);
  loom_->setGeometry(0, bands_.worklist, width(), bands_.loom());
  loom_->SetBands(bands_);
  const int top = bands_.worklist + bands_.loom();
  const QRect easel(0, top, width(), height() - top - bands_.instruments);
  easel_view_->SetBands(bands_);
  easel_view_->setGeometry(easel);
  sheet_view_->setGeometry(easel);
  instruments_band_->setGeometry(0, height() - bands_.instruments, width(), bands_.instruments);
  instruments_band_->SetBands(bands_);
  if (slip_) slip_->PlaceIn(below, top);
}

void MainWindow::resizeEvent(QResizeEvent*) {
  const int strip = bands_.strip;
  Arrange();
  if (strip != bands_.strip) RescaleThumbnails();
}

void MainWindow::showEvent(QShowEvent*) {
  // Once there is a window of the system, it may be carried to another monitor.
  connect(windowHandle(), &QWindow::screenChanged, this, &MainWindow::ApplyMonitor, Qt::UniqueConnection);
  ApplyMonitor();
}

void MainWindow::changeEvent(QEvent* e) {
  if (e->type() == QEvent::ActivationChange && !isActiveWindow()) {
    // A key that is let go elsewhere is let go here too.
    easel_view_->HoldFlicker(false);
    easel_view_->HoldBefore(false);
  }
  QWidget::changeEvent(e);
}

void MainWindow::NextBand(int by) {
  QWidget* const easel = sheet_view_->isVisible() ? static_cast<QWidget*>(sheet_view_) : easel_view_;
  QWidget* const bands[] = {worklist_band_, loom_, easel, instruments_band_};
  QWidget* const first[] = {worklist_band_->settle_button()->isEnabled()
                                ? static_cast<QWidget*>(worklist_band_->settle_button())
                                : worklist_band_->session_button(),
                            loom_, easel, instruments_band_->plane()};
  QWidget* at = QApplication::focusWidget();
  int now = by > 0 ? -1 : 4;
  for (int i = 0; i < 4; ++i)
    if (at && (at == bands[i] || bands[i]->isAncestorOf(at))) now = i;
  for (int step = 0; step < 4; ++step) {
    now = (now + by + 4) % 4;
    if (!bands[now]->isVisible()) continue;
    if (bands[now] == loom_) return loom_->FocusPart(loom_->part());
    return first[now]->setFocus(Qt::ShortcutFocusReason);
  }
}

void MainWindow::ToggleSheet() {
  if (!link_.desk()) return;
  if (sheet_view_->isVisible()) {
    sheet_view_->hide();
    easel_view_->show();
    easel_view_->setFocus();
    return;
  }
  const std::vector<PhotoId> chosen = Selection();
  const job::FrameRow* row = link_.book()->Frame(hand_.frame());
  if (chosen.size() > 1)
    sheet_.ShowFrames(chosen);
  else if (row)
    sheet_.ShowLight(row->light);
  else
    return;
  sheet_view_->show();
  sheet_view_->setFocus();
  easel_view_->hide();  // Tab would find its rows behind the sheet
  if (slip_) slip_->raise();
}

void MainWindow::keyPressEvent(QKeyEvent* e) {
  const Qt::KeyboardModifiers m = e->modifiers() & ~Qt::KeypadModifier;
  const bool plain = m == Qt::NoModifier || m == Qt::ShiftModifier;
  if (m & Qt::ControlModifier) {
    switch (e->key()) {
      case Qt::Key_Z:
        return Undo(!(m & Qt::ShiftModifier));
      case Qt::Key_L:
        return CarryToLight({});
      case Qt::Key_N:
        return AskNew({}, {});
      case Qt::Key_O:
        return AskOpen();
      case Qt::Key_D:
        return AskDeliver();
      case Qt::Key_Q:
        close();
        return;
      default:
        return QWidget::keyPressEvent(e);
    }
  }
  switch (e->key()) {
    case Qt::Key_F1:
      return qobject_cast<KeysSlip*>(slip_) ? CloseSlip() : ShowSlip(new KeysSlip(this));
    case Qt::Key_F6:
      return NextBand(m & Qt::ShiftModifier ? -1 : 1);
    case Qt::Key_Escape:
      if (slip_) return CloseSlip();
      if (sheet_view_->isVisible()) return ToggleSheet();
      break;
    default:
      break;
  }
  if (!link_.desk() || !plain) return QWidget::keyPressEvent(e);
  switch (e->key()) {
    case Qt::Key_PageDown:
      return worklist_band_->Next();
    case Qt::Key_PageUp:
      return worklist_band_->Previous();
    case Qt::Key_Return:
    case Qt::Key_Enter:
      return worklist_band_->Settle();
    case Qt::Key_S:
      return easel_view_->SetWay(Easel::Way::kSide);
    case Qt::Key_W:
      return easel_view_->SetWay(Easel::Way::kWipe);
    case Qt::Key_F:
      return e->isAutoRepeat() ? void() : easel_view_->HoldFlicker(true);
    case Qt::Key_B:
      return e->isAutoRepeat() ? void() : easel_view_->HoldBefore(true);
    case Qt::Key_N:
      return easel_.SetStanding(Easel::Stand::kNeighbour, !easel_.Stands(Easel::Stand::kNeighbour));
    case Qt::Key_M:
      return easel_.SetStanding(Easel::Stand::kCamera, !easel_.Stands(Easel::Stand::kCamera));
    case Qt::Key_H:
      return easel_view_->ToggleMarks();
    case Qt::Key_Plus:
    case Qt::Key_Equal:
      return easel_view_->ZoomStep(1);
    case Qt::Key_Minus:
      return easel_view_->ZoomStep(-1);
    case Qt::Key_0:
      return easel_.Fit();
    case Qt::Key_L:
      return ToggleSheet();
    case Qt::Key_A:
      return AskAlternatives();
    case Qt::Key_C:
      return AskCarry();
    case Qt::Key_U:
      return Update();
    default:
      QWidget::keyPressEvent(e);
  }
}

void MainWindow::keyReleaseEvent(QKeyEvent* e) {
  if (e->isAutoRepeat()) return;
  if (e->key() == Qt::Key_F) return easel_view_->HoldFlicker(false);
  if (e->key() == Qt::Key_B) return easel_view_->HoldBefore(false);
  QWidget::keyReleaseEvent(e);
}

void MainWindow::dragEnterEvent(QDragEnterEvent* e) {
  if (e->mimeData()->hasUrls() && link_.desk()) e->acceptProposedAction();
}

void MainWindow::dropEvent(QDropEvent* e) {
  QStringList paths;
  for (const QUrl& url : e->mimeData()->urls())
    if (url.isLocalFile()) paths += url.toLocalFile();
  if (paths.isEmpty() || !link_.desk()) return;
  // On the upper half of the loom lie the scans.
  const bool film =
      e->position().y() < bands_.worklist + bands_.names + bands_.edge + bands_.strip + bands_.ribbons / 2;
  auto* add = new AddSlip(false, this);
  (film ? add->film() : add->digital())->SetFolders(paths);
  connect(add, &AddSlip::wanted, this,
          [this](const QStringList& scans, const QStringList& frames) { NewSession(scans, frames, {}); });
  ShowSlip(add);
  e->acceptProposedAction();
}

void MainWindow::closeEvent(QCloseEvent* e) {
  link_.Close();
  QWidget::closeEvent(e);
}

}  // namespace samelight::window
