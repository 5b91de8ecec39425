#include "window/view/instruments_band.h"

#include <cmath>

#include <QtGui/QPainter>

#include "window/view/paint.h"

namespace samelight::window {
namespace {

using theme::Font;
using theme::Weight;
constexpr int kTitle = 42;  // px from the top of the band to what the title is about

}  // namespace

InstrumentsBand::InstrumentsBand(DeskLink* link, Instruments* instruments, QWidget* parent)
    : QWidget(parent),
      bands_(theme::BandsFor(1600, 1000)),
      instruments_(instruments),
      left_over_model_(instruments),
      handle_model_(instruments),
      follow_model_(link, instruments) {
  setAccessibleName(tr("Instruments"));
  // Not told to be opaque: Qt would paint it once by itself and once more for the instruments on it.
  plane_ = new PlaneView(instruments, this);
  tone_ = new ToneView(instruments, this);
  left_over_ = new LeftOverView(&left_over_model_, instruments, this);
  correction_ = new CorrectionView(&handle_model_, &follow_model_, instruments, this);
  connect(plane_, &PlaneView::rowChanged, left_over_, &LeftOverView::SetRow);
  connect(left_over_, &LeftOverView::rowTaken, plane_, &PlaneView::SetRow);
  connect(left_over_, &LeftOverView::rowTaken, this, &InstrumentsBand::regionPointed);
  connect(left_over_, &LeftOverView::rowPointed, this, &InstrumentsBand::regionPointed);
  connect(plane_, &PlaneView::moved, correction_, &CorrectionView::Flash);
  connect(tone_, &ToneView::moved, correction_, &CorrectionView::Flash);
  const auto title = [this, link] {
    const job::FrameRow* row = link->book()->Frame(instruments_->frame());
    correction_->SetTitle(row ? tr("frame %1").arg(QString::fromStdString(row->name)) : QString());
  };
  connect(instruments, &Instruments::frameChanged, this, title);
  // The eye is on the pictures. Painting both would double the longest turn there is.
  pictures_first_.setSingleShot(true);
  pictures_first_.setInterval(1);
  connect(instruments, &Instruments::frameChanged, this, [this] {
    setUpdatesEnabled(false);
    pictures_first_.start();
  });
  connect(&pictures_first_, &QTimer::timeout, this, [this] { setUpdatesEnabled(true); });
}

void InstrumentsBand::SetBands(const theme::Bands& bands) {
  bands_ = bands;
  setFixedHeight(bands.instruments);
  left_over_->SetBands(bands);
  correction_->SetBands(bands);
  Arrange();
}

void InstrumentsBand::Arrange() {
  const double w = width();
  const double m = bands_.margin, bottom = height() - (bands_.narrow ? 10 : 14);
  const double h = bottom - kTitle;
  const bool narrow = bands_.narrow;
  const double plane_w = h;  // square
  const double gap = narrow ? 18 : 28;
  const double correction_w = narrow ? 446 : std::clamp(w * 0.343, 500.0, 600.0);
  const double rest = w - 2 * m - plane_w - correction_w - 3 * gap;
  const double tone_w = rest * (narrow ? 0.39 : 0.405);
  double x = m;
  const auto place = [&](QWidget* widget, double width_px, double top) {
    // Three px around everything, for the ring of the focus.
    widget->setGeometry(static_cast<int>(x) - 3, static_cast<int>(top) - 3, static_cast<int>(width_px) + 6,
                        static_cast<int>(bottom - top) + 6);
    x += width_px + gap;
  };
  place(plane_, plane_w, kTitle);
  const double tone_x = x;
  place(tone_, tone_w, kTitle);
  // The scale under the tone curves hangs below the well of the plane beside it.
  tone_->setGeometry(static_cast<int>(tone_x) - 6, kTitle - 3, static_cast<int>(tone_w) + 9,
                     static_cast<int>(h) + 6);
  place(left_over_, rest - tone_w, kTitle - 4);
  place(correction_, correction_w, 14);
}

void InstrumentsBand::paintEvent(QPaintEvent*) {
  QPainter p(this);
  p.fillRect(rect(), theme::kGround);
  Hairline(p, 0, 0, width(), 0, QColor(0x20, 0x20, 0x20));
  const auto title = [&](const QWidget* of, const QString& name, const QString& rest) {
    DrawRuns(p,
             of->x() + (of == left_over_ ? 13
                        : of == tone_    ? 6
                                         : 3),
             28, of->geometry().right(),
             {{name + QStringLiteral("  "), Font(13, Weight::kStrong)}, {rest, Font(12), theme::kText3}});
  };
  title(plane_, tr("Hue–chroma"), QString());
  // The two dots, as the legend of the plane.
  p.setRenderHint(QPainter::Antialiasing);
  double x = plane_->x() + 3 + FiguresWidth(tr("Hue–chroma"), Font(13, Weight::kStrong)) + 18;
  p.setPen(QPen(theme::kText2, 1.5));
  p.setBrush(Qt::NoBrush);
  p.drawEllipse(QPointF(x, 24), 4, 4);
  x = DrawRuns(p, x + 9, 28, plane_->geometry().right(), {{tr("scan"), Font(12), theme::kText3}}) + 14;
  p.setPen(Qt::NoPen);
  p.setBrush(theme::kText3);
  p.drawEllipse(QPointF(x, 24), 4.5, 4.5);
  DrawRuns(p, x + 9, 28, plane_->geometry().right() + 8.0, {{tr("frame"), Font(12), theme::kText3}});
  title(tone_, tr("Tone"), bands_.narrow ? tr("density, EV") : tr("density against exposure"));
  title(left_over_, tr("Left-over"), bands_.narrow ? tr("CIEDE2000") : tr("CIEDE2000, mark = tolerance"));
}

void InstrumentsBand::resizeEvent(QResizeEvent*) { Arrange(); }

}  // namespace samelight::window
