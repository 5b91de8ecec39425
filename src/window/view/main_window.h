// The one window: worklist, loom, easel, instruments.
#pragma once

#include <deque>
#include <filesystem>
#include <optional>
#include <set>

#include <QtCore/QElapsedTimer>
#include <QtCore/QPointer>
#include <QtWidgets/QWidget>

#include "window/model/easel.h"
#include "window/model/hand.h"
#include "window/model/instruments.h"
#include "window/model/problems.h"
#include "window/model/sheet.h"
#include "window/model/worklist.h"
#include "window/view/easel_view.h"
#include "window/view/instruments_band.h"
#include "window/view/loom_view.h"
#include "window/view/sheet_view.h"
#include "window/view/slips.h"
#include "window/view/thumbs.h"
#include "window/view/welcome.h"
#include "window/view/worklist_band.h"

namespace samelight::window {

class MainWindow : public QWidget {
  Q_OBJECT
 public:
  // `recent`: the list of sessions of before (job/recent.h); empty: kept nowhere.
  explicit MainWindow(std::filesystem::path recent);
  ~MainWindow() override;

  // Into the session `file`, made when it is not there; an empty name: into the one that is open. `look`: the
  // kept look to begin from; empty: as it stands.
  void NewSession(const QStringList& film, const QStringList& digital, const QString& file,
                  const QString& look = {});

  DeskLink& link() { return link_; }
  Hand& hand() { return hand_; }
  Instruments& instruments() { return instruments_; }
  Worklist& worklist() { return worklist_; }
  Easel& easel() { return easel_; }
  WorklistBand* worklist_band() { return worklist_band_; }
  LoomView* loom() { return loom_; }
  EaselView* easel_view() { return easel_view_; }
  SheetView* sheet_view() { return sheet_view_; }
  InstrumentsBand* instruments_band() { return instruments_band_; }
  Slip* slip() { return slip_; }
  bool HasThumbnails() const { return thumbs_came_; }

 protected:
  void resizeEvent(QResizeEvent*) override;
  void showEvent(QShowEvent*) override;
  void keyPressEvent(QKeyEvent*) override;
  void keyReleaseEvent(QKeyEvent*) override;
  void dragEnterEvent(QDragEnterEvent*) override;
  void dropEvent(QDropEvent*) override;
  void closeEvent(QCloseEvent*) override;
  void changeEvent(QEvent*) override;

 private:
  // main_window.cc: the bands and the keys
  void Arrange();
  void NextBand(int by);
  void ToggleSheet();
  // main_window_session.cc: sessions, jobs, slips
  void Opened();
  void ShowSlip(Slip* slip);
  void CloseSlip();
  void SessionMenu(QPoint at);
  void FilterMenu(QPoint at);
  void StatesMenu(QPoint at);
  void StartAdd(const QStringList& film, const QStringList& digital);
  void TellUnlessStarted(bool started);  // a job
  void AskNew(const QStringList& film, const QStringList& digital);
  void AskOpen();
  void AskDeliver();
  void AskCarry();
  void CarryToLight(std::vector<record::Handle> handles);
  void ProofSheet();
  void Update();
  void Undo(bool undo);
  void JobEnded(const job::JobEnded& end);
  void ApplyMonitor();
  QByteArray NamedProfile(const QString& name);
  bool SoftProof(bool on);  // whether it is on now
  // main_window_loom.cc: the loom and its pictures
  void ConnectLoom();
  void RebuildLoom();
  void ShowAlternatives(int scan, QPoint at);
  void AskAlternatives();  // of the scan in hand
  void OutlineRegion(int row);
  void FollowHand();
  void WantThumbnails();
  void TakeThumbnails();
  void TakeThumbnail(const job::Pictures::Thumb& thumb);
  void RescaleThumbnails();
  void LoomMenu(int light, int scan, int frame, QPoint at);
  void EdgeMoved(int left_light, int first_frame);
  void Tie(PhotoId scan, PhotoId frame);
  QString TipFor(int scan, int frame) const;
  std::vector<PhotoId> Selection() const;

  DeskLink link_;
  Hand hand_;
  Instruments instruments_;
  Worklist worklist_;
  Easel easel_;
  Sheet sheet_;
  Problems problems_;
  Thumbs thumbs_;
  std::filesystem::path recent_;
  theme::Bands bands_;
  WorklistBand* worklist_band_;
  LoomView* loom_;
  EaselView* easel_view_;
  SheetView* sheet_view_;
  InstrumentsBand* instruments_band_;
  Welcome* welcome_;
  Slip* slip_ = nullptr;
  QPointer<QWidget> before_slip_;  // a field of a handle goes away when it loses the focus
  std::filesystem::path delivered_;
  QByteArray monitor_;  // its profile; empty: sRGB
  // Folders that wait for the session that they were named for.
  struct Begun {
    std::filesystem::path file;
    QStringList film, digital;
    QString look;
  };
  std::optional<Begun> begun_;
  std::deque<job::Pictures::Thumb> waiting_thumbs_;
  bool thumbs_came_ = false;
};

}  // namespace samelight::window
