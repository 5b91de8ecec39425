#include "window/view/easel_view.h"

#include <algorithm>
#include <cmath>

#include <QtGui/QFontMetricsF>
#include <QtGui/QMouseEvent>
#include <QtGui/QPainter>
#include <QtGui/QPainterPath>

#include "window/view/easel_row.h"
#include "window/view/paint.h"

namespace samelight::window {
namespace {

using theme::Font;
using theme::Weight;

// Half a turn of the flicker, ms: five turns in two seconds stay below three flashes a second
// (WCAG 2.2, 2.3.1).
constexpr int kTurnMs = 400;

QImage Wrap(const preview::Shown& shown) {
  return QImage(reinterpret_cast<const uchar*>(shown.argb.data()), shown.width, shown.height,
                static_cast<qsizetype>(shown.width) * 4, QImage::Format_ARGB32_Premultiplied);
}

// Thin diagonals, dark and light side by side so that they are seen on any picture: rising where a channel is
// clipped, falling where all is black, both ways where the delivery space ends. As thin and as far apart on
// every screen; `ratio`: its pixels per px.
QImage Hatch(const preview::Shown& shown, double ratio) {
  if (shown.marks.empty()) return {};
  QImage out(shown.width, shown.height, QImage::Format_ARGB32_Premultiplied);
  out.fill(0);
  bool any = false;
  const int line_px = std::max(1, static_cast<int>(std::lround(ratio))), period = 8 * line_px;
  for (int y = 0; y < shown.height; ++y) {
    const std::uint8_t* mark = shown.marks.data() + static_cast<std::size_t>(y) * shown.width;
    auto* line = reinterpret_cast<QRgb*>(out.scanLine(y));
    for (int x = 0; x < shown.width; ++x) {
      if (!mark[x]) continue;
      any = true;
      const int up = (x + y) % period / line_px, down = (x - y + period * shown.height) % period / line_px;
      const bool rising = mark[x] & (preview::kClippedHigh | preview::kOutOfGamut);
      const bool falling = mark[x] & (preview::kClippedLow | preview::kOutOfGamut);
      if ((rising && up == 0) || (falling && down == 0))
        line[x] = 0xff000000;
      else if ((rising && up == 1) || (falling && down == 1))
        line[x] = 0xffffffff;
    }
  }
  return any ? out : QImage();
}

}  // namespace

EaselView::EaselView(Easel* easel, QWidget* parent)
    : QWidget(parent), easel_(easel), bands_(theme::BandsFor(1600, 1000)) {
  setFocusPolicy(Qt::StrongFocus);
  setMouseTracking(true);
  setAttribute(Qt::WA_OpaquePaintEvent);
  setAccessibleName(tr("Easel"));
  full_ = new EaselRow(tr("100 %"), QString(), EaselRow::Mark::kNone, true, this);
  half_ = new EaselRow(tr("50 %"), QString(), EaselRow::Mark::kNone, true, this);
  fit_ = new EaselRow(tr("fit"), QString(), EaselRow::Mark::kNone, true, this);
  side_ = new EaselRow(tr("side by side"), QStringLiteral("S"), EaselRow::Mark::kSide, false, this);
  wipe_ = new EaselRow(tr("wipe"), QStringLiteral("W"), EaselRow::Mark::kWipe, false, this);
  flicker_ = new EaselRow(tr("flicker"), QStringLiteral("F"), EaselRow::Mark::kFlicker, false, this);
  before_ = new EaselRow(tr("before"), QStringLiteral("B"), EaselRow::Mark::kBefore, false, this);
  marks_ = new EaselRow(tr("ends of range"), QStringLiteral("H"), EaselRow::Mark::kHatch, false, this);
  const auto middle = [this] {
    const int pane = MainPane();
    return pane < 0 ? QPointF()
                    : QPointF(easel_->panes()[pane].box.width() / 2, easel_->panes()[pane].box.height() / 2);
  };
  connect(full_, &EaselRow::clicked, this, [=, this] { easel_->ZoomTo(1, MainPane(), middle()); });
  connect(half_, &EaselRow::clicked, this, [=, this] { easel_->ZoomTo(0.5, MainPane(), middle()); });
  connect(fit_, &EaselRow::clicked, this, [this] { easel_->Fit(); });
  connect(side_, &EaselRow::clicked, this, [this] { SetWay(Easel::Way::kSide); });
  connect(wipe_, &EaselRow::clicked, this, [this] { SetWay(Easel::Way::kWipe); });
  connect(flicker_, &EaselRow::pressed, this, [this] { HoldFlicker(true); });
  connect(flicker_, &EaselRow::released, this, [this] { HoldFlicker(false); });
  connect(before_, &EaselRow::pressed, this, [this] { HoldBefore(true); });
  connect(before_, &EaselRow::released, this, [this] { HoldBefore(false); });
  connect(marks_, &EaselRow::clicked, this, &EaselView::ToggleMarks);
  turn_.setInterval(kTurnMs);
  connect(&turn_, &QTimer::timeout, this, [this] {
    other_ = !other_;
    update();
  });
  connect(easel, &Easel::laidOut, this, &EaselView::Refresh);
  connect(easel, &Easel::pictureCame, this, [this](int pane) {
    hatch_.resize(easel_->panes().size());
    if (pane >= 0 && pane < static_cast<int>(hatch_.size()))
      hatch_[pane] = easel_->marks() ? Hatch(easel_->panes()[pane].shown, devicePixelRatioF()) : QImage();
    const int at = pane < 0 ? MainPane() : pane;
    if (at >= 0 && at < static_cast<int>(easel_->panes().size()))
      update(easel_->panes()[at].box.toAlignedRect().adjusted(-2, -2, 2, 2));
  });
  Refresh();
}

void EaselView::SetBands(const theme::Bands& bands) {
  bands_ = bands;
  Arrange();
}

int EaselView::MainPane() const {
  const std::vector<Easel::Pane>& panes = easel_->panes();
  for (std::size_t i = 0; i < panes.size(); ++i)
    if (panes[i].stand == Easel::Stand::kFrame) return static_cast<int>(i);
  return panes.empty() ? -1 : 0;
}

void EaselView::Arrange() {
  const double words = bands_.narrow ? 190 : 228;
  easel_->SetRoom(width(), height(), words, devicePixelRatioF());
}

void EaselView::Refresh() {
  const auto whole = [](double zoom) { return QString::number(std::lround(zoom * 100)); };
  const double zoom = easel_->zoom() / 1.0;
  fit_->setText(easel_->fits() ? tr("fit, %1 %").arg(whole(zoom)) : tr("fit"));
  fit_->setChecked(easel_->fits());
  full_->setChecked(!easel_->fits() && std::abs(zoom - 1) < 0.01);
  half_->setChecked(!easel_->fits() && std::abs(zoom - 0.5) < 0.01);
  full_->setText(!easel_->fits() && std::abs(zoom - 1) >= 0.01 && std::abs(zoom - 0.5) >= 0.01
                     ? tr("now %1 %      100 %").arg(whole(zoom))
                     : tr("100 %"));
  side_->setChecked(easel_->way() == Easel::Way::kSide);
  wipe_->setChecked(easel_->way() == Easel::Way::kWipe);
  flicker_->setChecked(flicker_on_);
  before_->setChecked(before_on_);
  marks_->setChecked(easel_->marks());
  marks_->setText(easel_->soft_proof() ? tr("ends of the proof") : tr("ends of range"));
  hatch_.assign(easel_->panes().size(), QImage());
  if (easel_->marks())
    for (std::size_t i = 0; i < hatch_.size(); ++i)
      hatch_[i] = Hatch(easel_->panes()[i].shown, devicePixelRatioF());
  const bool any = !easel_->panes().empty();
  for (EaselRow* row : {full_, half_, fit_, side_, wipe_, flicker_, before_, marks_}) row->setVisible(any);
  double left = width(), right = 0;
  for (const Easel::Pane& pane : easel_->panes())
    if (!pane.box.isEmpty()) {
      left = std::min(left, pane.box.left());
      right = std::max(right, pane.box.right());
    }
  const int bottom = height() - 12, row = 24;
  const int left_x = std::max(4, static_cast<int>(left) - 16 - 150);
  int y = bottom;
  for (EaselRow* r : {fit_, half_, full_}) {
    y -= row;
    r->setGeometry(left_x, y, 154, 22);
  }
  y = bottom;
  const int right_x = std::min(static_cast<int>(right) + 12, width() - 162);
  for (EaselRow* r : {marks_, before_, flicker_, wipe_, side_}) {
    y -= row;
    r->setGeometry(right_x, y, 158, 22);
  }
  QStringList told;
  for (const Easel::Pane& pane : easel_->panes()) told += pane.words.join(QStringLiteral(", "));
  setAccessibleDescription(told.join(QStringLiteral("; ")));
  update();
}

void EaselView::PaintPane(QPainter& p, const Easel::Pane& pane, const QRectF& box,
                          const QImage& hatch) const {
  if (!pane.shown.empty()) {
    const QImage picture = Wrap(pane.shown);
    const double r = devicePixelRatioF();
    const bool exact = std::abs(pane.shown.width - box.width() * r) < 1 &&
                       std::abs(pane.shown.height - box.height() * r) < 1;
    p.setRenderHint(QPainter::SmoothPixmapTransform, !exact);
    p.drawImage(box, picture, QRectF(0, 0, pane.shown.width, pane.shown.height));
    if (!hatch.isNull()) p.drawImage(box, hatch, QRectF(0, 0, hatch.width(), hatch.height()));
  } else if (!pane.why.isEmpty()) {
    FillCrisp(p, box, theme::kRail);
    DrawText(p, box.adjusted(16, 0, -16, 0), Qt::AlignHCenter, pane.why, Font(13), theme::kText1);
  } else {
    FillCrisp(p, box, QColor(0x60, 0x60, 0x60));
  }
}

void EaselView::PaintWords(QPainter& p, const Easel::Pane& pane, bool left) const {
  const double x = left ? 8 : pane.box.right() + 16;
  const double w = left ? pane.box.left() - 24 : width() - x - 8;
  const Qt::Alignment align = left ? Qt::AlignRight : Qt::AlignLeft;
  double y = pane.box.top() - 2;
  for (int i = 0; i < pane.words.size(); ++i) {
    const bool name = i == 1;
    const QFont& font = name ? Font(bands_.narrow ? 16 : 20, Weight::kStrong) : Font(12);
    // What was seen on a picture may take several lines.
    const QFontMetricsF metrics(font);
    if (!name && metrics.horizontalAdvance(pane.words[i]) > w) {
      const QRectF box(x, y + 1, w, pane.box.bottom() - y - 150);
      p.setFont(font);
      p.setPen(theme::kText1);
      QRectF taken;
      p.drawText(box, static_cast<int>(align) | Qt::AlignTop | Qt::TextWordWrap, pane.words[i], &taken);
      y += taken.height() + 3;
      continue;
    }
    const double h = name ? 28 : 18;
    DrawText(p, {x, y, w, h}, align, pane.words[i], font, theme::kText1);
    y += h;
  }
}

// What is cut away is darker; a short mark shows which edge will be the upper one.
void EaselView::PaintCut(QPainter& p, const Easel::Pane& pane) const {
  const std::vector<QPointF> corners = easel_->CutOfFrame(pane.photo);
  if (corners.size() != 4) return;
  QPolygonF kept;
  for (const QPointF& at : corners)
    kept << QPointF(pane.box.left() + at.x() * pane.box.width(), pane.box.top() + at.y() * pane.box.height());
  QPainterPath away;
  away.addRect(pane.box);
  QPainterPath inside;
  inside.addPolygon(kept);
  inside.closeSubpath();
  p.setRenderHint(QPainter::Antialiasing);
  p.fillPath(away.subtracted(inside), QColor(0, 0, 0, 120));
  p.setPen(QPen(theme::kMark, 1.25));
  p.setBrush(Qt::NoBrush);
  p.drawPolygon(kept);
  const QPointF middle = (kept[0] + kept[1]) / 2, along = (kept[1] - kept[0]) * 0.04;
  p.setPen(QPen(theme::kMark, 3));
  p.drawLine(middle - along, middle + along);
}

QRectF EaselView::Divider() const {
  const int main = MainPane();
  if (main < 0) return {};
  const QRectF box = easel_->panes()[main].box;
  return {box.left() + box.width() * divide_ - 1, box.top(), 2, box.height()};
}

void EaselView::paintEvent(QPaintEvent* e) {
  QPainter p(this);
  p.fillRect(e->rect(), theme::kEasel);
  const std::vector<Easel::Pane>& panes = easel_->panes();
  const int main = MainPane();
  int seen = 0, first = -1, last = -1;
  for (std::size_t i = 0; i < panes.size(); ++i)
    if (!panes[i].box.isEmpty()) {
      if (first < 0) first = static_cast<int>(i);
      last = static_cast<int>(i);
      ++seen;
    }
  for (std::size_t i = 0; i < panes.size(); ++i) {
    const Easel::Pane& pane = panes[i];
    if (pane.box.isEmpty()) continue;
    const bool is_main = static_cast<int>(i) == main;
    const QImage hatch = i < hatch_.size() ? hatch_[i] : QImage();
    if (is_main && before_on_ && !easel_->camera().shown.empty())
      PaintPane(p, easel_->camera(), pane.box, {});
    else if (is_main && flicker_on_ && other_ && !easel_->over().shown.empty())
      PaintPane(p, easel_->over(), pane.box, {});
    else
      PaintPane(p, pane, pane.box, hatch);
    if (is_main && easel_->way() == Easel::Way::kWipe && !before_on_ && !easel_->over().shown.empty()) {
      const QRectF line = Divider();
      p.save();
      p.setClipRect(
          QRectF(pane.box.left(), pane.box.top(), line.left() - pane.box.left(), pane.box.height()));
      FillCrisp(p, pane.box, theme::kEasel);
      PaintPane(p, easel_->over(), pane.box, {});
      p.restore();
      FillCrisp(p, line, theme::kMark);
    }
    if (seen > 2 && pane.words.size() > 1)
      DrawRuns(p, pane.box.left(), pane.box.top() - 8, pane.box.right(),
               {{pane.words[0] + QStringLiteral("  "), Font(12), theme::kText1},
                {pane.words[1], Font(12, Weight::kStrong)}});
    if (pane.stand == Easel::Stand::kFrame && easel_->fits()) PaintCut(p, pane);
    for (const auto& [photo, part] : outline_) {
      if (photo != pane.photo || !easel_->fits()) continue;
      const QRectF box(pane.box.left() + part.left() * pane.box.width(),
                       pane.box.top() + part.top() * pane.box.height(), part.width() * pane.box.width(),
                       part.height() * pane.box.height());
      p.setRenderHint(QPainter::Antialiasing);
      p.setBrush(Qt::NoBrush);
      p.setPen(QPen(QColor(0, 0, 0, 160), 2));
      p.drawEllipse(box);
      QPen dashes(theme::kMark, 1.25);
      dashes.setDashPattern({2.5, 2});
      p.setPen(dashes);
      p.drawEllipse(box);
    }
  }
  if (seen > 0 && seen <= 2) {
    if (first != last) PaintWords(p, panes[first], true);
    if (easel_->way() == Easel::Way::kWipe && easel_->over().photo.valid()) {
      for (const Easel::Pane& pane : panes)
        if (pane.stand == Easel::Stand::kScan) {
          Easel::Pane at_left = {};
          at_left.words = pane.words;
          at_left.box = panes[main].box;
          PaintWords(p, at_left, true);
        }
    }
    PaintWords(p, panes[last], false);
  }
  if (panes.empty())
    DrawText(p, QRectF(rect()), Qt::AlignHCenter, tr("The pictures come here as soon as they are read."),
             Font(17, Weight::kStrong), theme::kText1);
  if (hasFocus()) {
    p.setRenderHint(QPainter::Antialiasing, false);
    p.setPen(QPen(theme::kMark, 1));
    p.setBrush(Qt::NoBrush);
    p.drawRect(QRectF(rect()).adjusted(0.5, 0.5, -1, -1));
  }
}

void EaselView::HoldFlicker(bool on) {
  if (on == flicker_on_) return;
  flicker_on_ = other_ = on;
  easel_->WantOver(on);
  if (on)
    turn_.start();
  else
    turn_.stop();
  flicker_->setChecked(on);
  update();
}

void EaselView::HoldBefore(bool on) {
  if (on == before_on_) return;
  before_on_ = on;
  easel_->WantCamera(on);
  before_->setChecked(on);
  update();
}

void EaselView::SetWay(Easel::Way way) { easel_->SetWay(way); }
void EaselView::ToggleMarks() {
  easel_->SetMarks(!easel_->marks());
  Refresh();
}

void EaselView::ZoomStep(int by) {
  constexpr double kSteps[] = {0.5, 1, 2, 4};
  const int main = MainPane();
  if (main < 0) return;
  const QRectF box = easel_->panes()[main].box;
  const QPointF middle(box.width() / 2, box.height() / 2);
  const double now = easel_->zoom();
  if (by > 0) {
    for (const double step : kSteps)
      if (step > now * 1.01) return easel_->ZoomTo(step, main, middle);
  } else if (!easel_->fits()) {
    for (auto step = std::rbegin(kSteps); step != std::rend(kSteps); ++step)
      if (*step < now * 0.99) return easel_->ZoomTo(*step, main, middle);
    easel_->Fit();
  }
}

void EaselView::SetOutline(std::vector<Outline> outline) {
  outline_ = std::move(outline);
  update();
}

}  // namespace samelight::window
