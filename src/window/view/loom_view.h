// The loom: every scan and every frame of the day, and what ties them.
#pragma once

#include <functional>
#include <optional>
#include <set>
#include <unordered_map>
#include <vector>

#include <QtCore/QVariantAnimation>
#include <QtGui/QPixmap>
#include <QtWidgets/QWidget>

#include "window/model/loom.h"
#include "window/view/ribbon.h"
#include "window/view/theme.h"
#include "window/view/thumbs.h"

namespace samelight::window {

class LoomView : public QWidget {
  Q_OBJECT
 public:
  enum class Part { kScans, kRibbons, kFrames };

  LoomView(Thumbs* thumbs, QWidget* parent = nullptr);

  void SetBands(const theme::Bands& bands);
  // Keeps the look at it (gaze, open pleats) where the same pictures are still there.
  void SetLoom(Loom loom);
  // Takes a pair in hand: the loom walks there. -1: none.
  void SetInHand(int frame, int scan);
  void SetSelection(std::set<int> frames);
  // A small picture came, or is another one.
  void ThumbCame(PhotoId photo);
  // What a frame-scan pair would come to, for the tip while a ribbon is carried; may be empty.
  void SetTip(std::function<QString(int scan, int frame)> tip) { tip_ = std::move(tip); }
  void SetHint(const QString& hint);
  const QString& hint() const { return hint_; }
  void FocusPart(Part part);

  const Loom& loom() const { return loom_; }
  const std::set<int>& selection() const { return selection_; }
  Part part() const { return part_; }
  // Where things are drawn, for those who point at them (tests, the tour).
  QRectF FrameBox(int frame) const;
  QRectF ScanBox(int scan) const;
  RibbonEnds EndsOf(int ribbon) const;
  QPointF EndOfScan(int scan) const;  // where its ribbon or its loose end begins
  QRectF LightBox(int light) const;
  bool IsOpen(int light) const { return now_.open[light] > 0.5; }

 signals:
  void frameTaken(int frame);
  void scanTaken(int scan);
  void pairWanted(int scan, int frame);
  void cutWanted(int scan, int frame);
  void alternativesWanted(int scan, QPoint global);
  void edgeWanted(int left_light, int first_frame_right);          // the right light begins at this frame
  void menuWanted(int light, int scan, int frame, QPoint global);  // -1: not on one

 protected:
  void paintEvent(QPaintEvent*) override;
  void resizeEvent(QResizeEvent*) override;
  void mousePressEvent(QMouseEvent*) override;
  void mouseMoveEvent(QMouseEvent*) override;
  void mouseReleaseEvent(QMouseEvent*) override;
  void mouseDoubleClickEvent(QMouseEvent*) override;
  void wheelEvent(QWheelEvent*) override;
  void keyPressEvent(QKeyEvent*) override;
  void leaveEvent(QEvent*) override;
  void contextMenuEvent(QContextMenuEvent*) override;
  void focusInEvent(QFocusEvent*) override;
  void focusOutEvent(QFocusEvent*) override;
  bool focusNextPrevChild(bool next) override;

 private:
  enum class Kind { kNothing, kScan, kFrame, kRibbon, kLoose, kLight, kEdge };
  struct Spot {
    Kind kind = Kind::kNothing;
    int index = -1;
    double along = 0;  // of a ribbon
    bool operator==(const Spot& o) const { return kind == o.kind && index == o.index; }
  };
  struct Carry {
    int scan = -1, frame = -1;  // the end that stays; the other is -1
    int ribbon = -1;            // being moved, -1: a loose end
    QPointF at;
    int target = -1;  // index on the other strip
    bool by_key = false;
  };
  struct EdgeCarry {
    int left = -1;  // the light on its left
    double x = 0;
    int frame = -1;  // where the right light would begin
  };

  Spot SpotAt(const QPointF& at) const;
  void Relay(bool animated);
  void UpdateLight(int light);  // what lies within its span is painted anew
  void SetHover(const Spot& spot);
  void LookAt(double at, bool animated);
  void SetCarryTarget(const QPointF& at);
  void StepAlong(int by, bool extend);
  void ToPart(Part part);
  void EndCarry(bool tie);
  void TakeFrame(int frame, Qt::KeyboardModifiers modifiers);
  int RibbonOfScan(int scan) const { return ties_.of_scan[scan]; }
  int RibbonOfFrame(int frame) const { return ties_.of_frame[frame]; }
  int LightOfGaze() const;

  double Y(int part) const;  // top of: 0 names, 1 edge, 2 scans, 3 ribbons, 4 frames, 5 left-over, 6 end
  double X(double loom_x) const { return bands_.gutter + loom_x - scroll_; }
  void PaintGutter(QPainter& p) const;
  void PaintWhole(QPainter& p, int light);
  void PaintKept(QPainter& p, int light);
  void PaintHover(QPainter& p, int light) const;
  void PaintLight(QPainter& p, int light) const;
  void PaintStrip(QPainter& p, int light, bool scans);
  void PaintThreads(QPainter& p, int light) const;
  void PaintLeftOver(QPainter& p, int light) const;
  void PaintRollMarks(QPainter& p) const;
  void PaintInHand(QPainter& p);
  void PaintCarry(QPainter& p);
  void PaintRibbon(QPainter& p, const LoomRibbon& ribbon, const RibbonEnds& ends, const QColor& colour) const;
  bool Dimmed(int scan) const;

  Thumbs* thumbs_;
  theme::Bands bands_;
  Loom loom_;
  LoomTies ties_;
  // What a folded light looks like, kept as long as nothing of it changes.
  struct Kept {
    QPixmap picture;
    double w = 0;
  };
  std::vector<Kept> kept_;
  std::unordered_map<PhotoId, int> light_of_;
  LoomGaze gaze_;
  std::vector<double> shut_or_open_;  // what the person asked of a pleat; < 0: nothing
  LoomLayout from_, to_, now_;
  QVariantAnimation pleat_;
  double scroll_ = 0;
  int frame_ = -1, scan_ = -1;
  std::set<int> selection_;
  Spot hover_;
  std::optional<Carry> carry_;
  std::optional<EdgeCarry> edge_;
  std::optional<Spot> pressed_;
  QPointF press_at_;
  Part part_ = Part::kFrames;
  int ribbon_ = -1;  // focused
  std::function<QString(int, int)> tip_;
  QString hint_;
};

}  // namespace samelight::window
