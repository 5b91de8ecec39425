#include "window/view/left_over_view.h"

#include <algorithm>
#include <cmath>

#include <QtCore/QMimeData>
#include <QtGui/QDrag>
#include <QtGui/QMouseEvent>
#include <QtGui/QPainter>
#include <QtWidgets/QApplication>

#include "window/view/paint.h"
#include "window/view/swatch.h"

namespace samelight::window {
namespace {

using theme::Font;
using theme::Weight;
constexpr double kHead = 26, kMostBar = 12;  // px; CIEDE2000 at the end of a bar

struct Columns {
  double name, bar, bar_w, before, now, words;
};
Columns ColumnsFor(double width, bool narrow) {
  Columns c{};
  c.name = 10;
  c.bar = narrow ? 100 : 98;
  const double words = narrow ? 104 : 128;
  c.words = width - words;
  c.now = c.words - (narrow ? 10 : 16);  // right edges
  c.before = c.now - (narrow ? 38 : 42);
  c.bar_w = std::max(30.0, c.before - 40 - c.bar);
  return c;
}

}  // namespace

LeftOverView::LeftOverView(LeftOverModel* model, Instruments* instruments, QWidget* parent)
    : QWidget(parent), model_(model), instruments_(instruments) {
  setFocusPolicy(Qt::StrongFocus);
  setMouseTracking(true);
  setAccessibleName(tr("Left-over table"));
  connect(instruments, &Instruments::frameChanged, this, [this] { first_ = 0; });
  connect(model, &QAbstractItemModel::modelReset, this, qOverload<>(&QWidget::update));
  connect(model, &QAbstractItemModel::dataChanged, this, qOverload<>(&QWidget::update));
}

void LeftOverView::SetBands(const theme::Bands& bands) {
  narrow_ = bands.narrow;
  update();
}

double LeftOverView::RowHeight() const {
  const double room = height() - kHead - 2;
  return std::clamp(room / std::max(6, model_->rowCount()), 22.0, 36.0);
}
int LeftOverView::Visible() const { return std::max(1, static_cast<int>((height() - kHead) / RowHeight())); }

QRectF LeftOverView::RowBox(int row) const {
  return {0, kHead + (row - first_) * RowHeight(), static_cast<double>(width()), RowHeight()};
}

int LeftOverView::RowAt(const QPointF& at) const {
  if (at.y() < kHead) return -1;
  const int row = first_ + static_cast<int>((at.y() - kHead) / RowHeight());
  return row < model_->rowCount() ? row : -1;
}

void LeftOverView::SetRow(int row) {
  row_ = row;
  if (row >= 0 && row < first_) first_ = row;
  if (row >= first_ + Visible()) first_ = row - Visible() + 1;
  if (row >= 0 && row < model_->rowCount())
    setAccessibleDescription(
        model_->index(row, LeftOverModel::kRegion).data().toString() + QStringLiteral(": ") +
        model_->index(row, LeftOverModel::kNow).data().toString() + QStringLiteral(", ") +
        model_->index(row, LeftOverModel::kWords).data().toString());
  update();
}

void LeftOverView::paintEvent(QPaintEvent*) {
  QPainter p(this);
  const Columns c = ColumnsFor(width(), narrow_);
  const QFont& small = Font(11);
  const auto x_of = [&](double de) { return c.bar + std::min(1.0, de / kMostBar) * c.bar_w; };
  for (const int de : {0, 4, 8})
    DrawFigures(p, {x_of(de) - (de == 0 ? 0 : 10), 5, 20, 16}, de == 0 ? Qt::AlignLeft : Qt::AlignHCenter,
                QString::number(de), small, theme::kText3);
  DrawText(p, {c.before - 50, 5, 50, 16}, Qt::AlignRight, tr("before"), small, theme::kText3);
  DrawText(p, {c.now - 40, 5, 40, 16}, Qt::AlignRight, tr("now"), small, theme::kText3);
  DrawText(p, {c.words, 5, width() - c.words, 16}, Qt::AlignLeft, tr("the frame is"), small, theme::kText3);
  const double h = RowHeight();
  for (int row = first_; row < model_->rowCount() && row < first_ + Visible(); ++row) {
    const QRectF box = RowBox(row);
    const bool in_hand = row == row_;
    if (in_hand || row == hover_) {
      p.setRenderHint(QPainter::Antialiasing);
      p.setPen(Qt::NoPen);
      p.setBrush(in_hand ? theme::kRaised : QColor(0x31, 0x31, 0x31));
      p.drawRoundedRect(box.adjusted(0, 0.5, 0, -0.5), theme::kButtonRadius, theme::kButtonRadius);
      p.setRenderHint(QPainter::Antialiasing, false);
    } else if (row + 1 < model_->rowCount() && row + 1 != row_ && row + 1 < first_ + Visible()) {
      Hairline(p, c.name, box.bottom() - 1, width() - 2, box.bottom() - 1, QColor(0x36, 0x36, 0x36));
    }
    const QModelIndex at = model_->index(row, LeftOverModel::kRegion);
    const QVariantList lab = at.data(LeftOverModel::kSwatch).toList();
    p.setRenderHint(QPainter::Antialiasing);
    if (lab.size() == 3) {
      p.setPen(Qt::NoPen);
      p.setBrush(SwatchOf({lab[0].toDouble(), lab[1].toDouble(), lab[2].toDouble()}));
      p.drawEllipse(QPointF(c.name + 4, box.center().y()), 4, 4);
    }
    p.setRenderHint(QPainter::Antialiasing, false);
    DrawText(p, {c.name + 15, box.top(), c.bar - c.name - 19, h}, Qt::AlignLeft, at.data().toString(),
             Font(12, in_hand ? Weight::kStrong : Weight::kRegular), theme::kText1);
    const double before = at.data(LeftOverModel::kBeforeValue).toDouble(),
                 now = at.data(LeftOverModel::kNowValue).toDouble();
    const double mark = at.data(LeftOverModel::kToleranceValue).toDouble();
    const double y = std::round(box.center().y()) - 5;
    FillCrisp(p, {c.bar, y, c.bar_w, 10}, theme::kWell);
    if (std::isfinite(now)) {
      FillCrisp(p, {c.bar, y, x_of(std::min(now, mark)) - c.bar, 10}, QColor(0xa0, 0xa0, 0xa0));
      if (now > mark) FillCrisp(p, {x_of(mark), y, x_of(now) - x_of(mark), 10}, theme::kMark);
      if (std::isfinite(before)) {
        p.setPen(QPen(QColor(0x80, 0x80, 0x80), 1));
        p.setBrush(Qt::NoBrush);
        p.drawRect(QRectF(c.bar, y, x_of(before) - c.bar, 9));
      }
      FillCrisp(p, {x_of(mark) - 0.5, y - 3, 1.5, 16}, theme::kText1);
      DrawFigures(p, {c.before - 50, box.top(), 50, h}, Qt::AlignRight,
                  model_->index(row, LeftOverModel::kBefore).data().toString(), Font(12), theme::kText3);
      DrawFigures(p, {c.now - 40, box.top(), 40, h}, Qt::AlignRight,
                  model_->index(row, LeftOverModel::kNow).data().toString(), Font(13, Weight::kStrong),
                  theme::kText1);
    }
    const QString words = model_->index(row, LeftOverModel::kWords).data().toString();
    DrawText(p, {c.words, box.top(), width() - c.words - 2, h}, Qt::AlignLeft, words, Font(12),
             at.data(LeftOverModel::kOverMark).toBool() ? theme::kText1 : theme::kText2);
  }
  const auto compared = [this](int row) {
    return std::isfinite(
        model_->index(row, LeftOverModel::kRegion).data(LeftOverModel::kNowValue).toDouble());
  };
  int any = 0;
  while (any < model_->rowCount() && !compared(any)) ++any;
  const double below = RowBox(model_->rowCount()).top();
  if (model_->rowCount() > 0 && any == model_->rowCount() && below + 40 < this->height())
    DrawText(p, {c.name, below + 4, width() - c.name - 4, 20}, Qt::AlignLeft,
             tr("No place of this frame is compared with a scan."), Font(12), theme::kText3);
  if (model_->rowCount() == 0)
    DrawText(
        p, {10, kHead, width() - 20.0, 30}, Qt::AlignLeft,
        instruments_->frame().valid() ? tr("No region of this frame is known yet.") : tr("No frame in hand."),
        Font(12), theme::kText3);
  if (first_ + Visible() < model_->rowCount())
    DrawText(p, {0, height() - 14.0, width() - 4.0, 14}, Qt::AlignRight,
             tr("%1 more").arg(model_->rowCount() - first_ - Visible()), Font(11), theme::kText3);
  if (hasFocus()) FocusRing(p, QRectF(rect()).adjusted(3, 3, -3, -3), theme::kFieldRadius);
}

void LeftOverView::mousePressEvent(QMouseEvent* e) {
  press_at_ = e->position();
  const int row = RowAt(e->position());
  if (row < 0) return;
  SetRow(row);
  emit rowTaken(row);
}

void LeftOverView::mouseMoveEvent(QMouseEvent* e) {
  if ((e->buttons() & Qt::LeftButton) && row_ >= 0 &&
      (e->position() - press_at_).manhattanLength() > QApplication::startDragDistance()) {
    auto* drag = new QDrag(this);
    auto* parcel = new QMimeData;
    parcel->setData(QLatin1String(kRegionMime), QByteArray::number(row_));
    drag->setMimeData(parcel);
    drag->exec(Qt::CopyAction);
    return;
  }
  const int row = RowAt(e->position());
  if (row != hover_) {
    hover_ = row;
    emit rowPointed(row);
    update();
  }
}

void LeftOverView::wheelEvent(QWheelEvent* e) {
  first_ =
      std::clamp(first_ - (e->angleDelta().y() > 0 ? 1 : -1), 0, std::max(0, model_->rowCount() - Visible()));
  update();
}

void LeftOverView::leaveEvent(QEvent*) {
  hover_ = -1;
  emit rowPointed(-1);
  update();
}

void LeftOverView::keyPressEvent(QKeyEvent* e) {
  if (e->key() != Qt::Key_Up && e->key() != Qt::Key_Down) return QWidget::keyPressEvent(e);
  if (model_->rowCount() == 0) return;
  SetRow(std::clamp(row_ + (e->key() == Qt::Key_Up ? -1 : 1), 0, model_->rowCount() - 1));
  emit rowTaken(row_);
}

}  // namespace samelight::window
