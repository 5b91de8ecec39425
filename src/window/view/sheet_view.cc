#include "window/view/sheet_view.h"

#include <algorithm>
#include <cmath>

#include <QtGui/QMouseEvent>
#include <QtGui/QPainter>

#include "window/view/paint.h"

namespace samelight::window {
namespace {

using theme::Font;
using theme::Weight;
constexpr double kTop = 38, kSide = 24, kGap = 14, kUnder = 24;  // px
constexpr double kAspect = 1.5, kLeastCell = 132;

}  // namespace

SheetView::SheetView(Sheet* sheet, Hand* hand, Thumbs* thumbs, QWidget* parent)
    : QWidget(parent), sheet_(sheet), hand_(hand), thumbs_(thumbs) {
  setFocusPolicy(Qt::StrongFocus);
  setAttribute(Qt::WA_OpaquePaintEvent);
  setAccessibleName(tr("Sheet: a light as a grid of equal pictures"));
  connect(sheet, &Sheet::modelReset, this, [this] {
    chosen_.clear();
    scroll_ = 0;
    Arrange();
  });
  connect(sheet, &Sheet::dataChanged, this, qOverload<>(&QWidget::update));
  connect(sheet, &Sheet::pictureCame, this, [this](int row) { update(CellBox(row).toAlignedRect()); });
  connect(hand, &Hand::changed, this, qOverload<>(&QWidget::update));
}

// As large as lets all of them be seen at once, but never smaller than can be judged.
void SheetView::Arrange() {
  const int count = std::max(1, sheet_->rowCount());
  const double room_w = width() - 2 * kSide, room_h = height() - kTop - 8;
  const int most = std::max(1, static_cast<int>((room_w + kGap) / (kLeastCell + kGap)));
  columns_ = most;
  cell_w_ = kLeastCell;
  for (int columns = 1; columns <= std::min(count, most); ++columns) {
    const int rows = (count + columns - 1) / columns;
    const double by_width = (room_w - kGap * (columns - 1)) / columns;
    const double by_height = ((room_h + 4) / rows - kUnder - 4) * kAspect;
    const double w = std::floor(std::min(by_width, by_height));
    if (w <= cell_w_) continue;
    cell_w_ = w;
    columns_ = columns;
  }
  cell_h_ = std::floor(cell_w_ / kAspect);
  const int rows = (count + columns_ - 1) / columns_;
  scroll_ = std::clamp(scroll_, 0.0, std::max(0.0, rows * (cell_h_ + kUnder + 4) - room_h));
  if (isVisible()) {
    const double pitch = cell_h_ + kUnder + 4;
    const int first = std::max(0, static_cast<int>(scroll_ / pitch) - 1) * columns_;
    const int last = (static_cast<int>((scroll_ + room_h) / pitch) + 2) * columns_ - 1;
    const double r = devicePixelRatioF();
    sheet_->Want(first, last, QSize(static_cast<int>(cell_w_ * r), static_cast<int>(cell_h_ * r)));
  }
  update();
}

QRectF SheetView::CellBox(int row) const {
  const double total = columns_ * cell_w_ + (columns_ - 1) * kGap;
  const double left = std::floor((width() - total) / 2);
  return {left + (row % columns_) * (cell_w_ + kGap),
          kTop + (row / columns_) * (cell_h_ + kUnder + 4) - std::floor(scroll_), cell_w_, cell_h_};
}

void SheetView::paintEvent(QPaintEvent*) {
  QPainter p(this);
  p.fillRect(rect(), theme::kEasel);
  for (int row = 0; row < sheet_->rowCount(); ++row) {
    const QRectF box = CellBox(row);
    if (box.bottom() + kUnder < kTop || box.top() > height()) continue;
    const QModelIndex at = sheet_->index(row);
    if (const preview::Shown* shown = sheet_->Picture(row)) {
      const QImage image(reinterpret_cast<const uchar*>(shown->argb.data()), shown->width, shown->height,
                         static_cast<qsizetype>(shown->width) * 4, QImage::Format_ARGB32_Premultiplied);
      p.drawImage(box, image, QRectF(0, 0, shown->width, shown->height));
    } else {
      FillCrisp(p, box, QColor(0x60, 0x60, 0x60));
      if (const QImage* soft = thumbs_->Get(sheet_->photo(row))) {
        p.setRenderHint(QPainter::SmoothPixmapTransform);
        const QSizeF size = QSizeF(soft->size()).scaled(box.size(), Qt::KeepAspectRatio);
        p.drawImage(QRectF(box.center() - QPointF(size.width(), size.height()) / 2, size), *soft);
      }
    }
    const double left_over = at.data(Sheet::kLeftOver).toDouble();
    const bool over = at.data(Sheet::kOver).toBool(), check = at.data(Sheet::kToCheck).toBool();
    // The bar of the left-over under the picture: its whole width is twice the mark.
    const double y = box.bottom() + 4;
    FillCrisp(p, {box.left(), y, box.width(), 2}, QColor(0x55, 0x55, 0x55));
    if (left_over > 0)
      FillCrisp(
          p, {box.left(), y - (over ? 1 : 0), box.width() * std::min(1.0, left_over / 2), over ? 4.0 : 2.0},
          over ? theme::kMark : QColor(0x9a, 0x9a, 0x9a));
    FillCrisp(p, {box.center().x(), y - 2, 1, 6}, theme::kText1);
    const QString name = at.data().toString();
    const QString reason = at.data(Sheet::kReason).toString();
    DrawRuns(p, box.left(), box.bottom() + 19, box.right(),
             {{name + QStringLiteral("  "), Font(11, check ? Weight::kStrong : Weight::kRegular)},
              {check ? reason : QString(), Font(11)}});
    if (chosen_.contains(row)) FillCrisp(p, {box.left(), box.bottom() - 4, box.width(), 4}, theme::kMark);
    if (sheet_->photo(row) == hand_->frame()) InHandFrame(p, box.adjusted(-3, -3, 3, 3));
  }
  FillCrisp(p, {0, 0, static_cast<double>(width()), kTop - 6}, theme::kEasel);
  DrawRuns(p, kSide, 23, width() - 300.0,
           {{sheet_->title() + QStringLiteral("  "), Font(15, Weight::kStrong)},
            {tr("%1 frames, equal in size; the white bar stands out").arg(sheet_->rowCount()), Font(12)}});
  DrawText(p, {width() - 320.0, 8, 296, 20}, Qt::AlignRight, tr("L or Esc: back to the easel"), Font(12),
           theme::kText1);
  if (hasFocus()) {
    p.setPen(QPen(theme::kMark, 1));
    p.drawRect(QRectF(rect()).adjusted(0.5, 0.5, -1, -1));
  }
}

int SheetView::CellAt(const QPointF& at) const {
  for (int row = 0; row < sheet_->rowCount(); ++row)
    if (CellBox(row).contains(at)) return row;
  return -1;
}

void SheetView::Take(int row) {
  if (row < 0 || row >= sheet_->rowCount()) return;
  emit taken(sheet_->photo(row));
  const QRectF box = CellBox(row);
  if (box.top() < kTop) scroll_ -= kTop - box.top();
  if (box.bottom() + kUnder > height()) scroll_ += box.bottom() + kUnder - height();
  Arrange();
}

void SheetView::mousePressEvent(QMouseEvent* e) {
  const int row = CellAt(e->position());
  if (row < 0) return;
  if (e->modifiers() & (Qt::ControlModifier | Qt::ShiftModifier)) {
    const int in_hand = sheet_->RowOf(hand_->frame());
    const bool run = (e->modifiers() & Qt::ShiftModifier) && in_hand >= 0;
    return Choose(run ? in_hand : row, row, !run);
  }
  Take(row);
}

void SheetView::Choose(int from, int to, bool toggle) {
  for (int k = std::min(from, to); k <= std::max(from, to); ++k)
    if (!toggle || !chosen_.erase(k)) chosen_.insert(k);
  std::vector<PhotoId> frames;
  for (const int k : chosen_) frames.push_back(sheet_->photo(k));
  emit chosenChanged(std::move(frames));
  update();
}

void SheetView::mouseDoubleClickEvent(QMouseEvent* e) {
  if (CellAt(e->position()) >= 0) emit closed();
}

void SheetView::keyPressEvent(QKeyEvent* e) {
  const int row = sheet_->RowOf(hand_->frame());
  const auto go = [&](int by) {
    const int to = row + by;
    if (to < 0 || to >= sheet_->rowCount()) return;
    if (row >= 0 && (e->modifiers() & Qt::ShiftModifier)) Choose(row, to, false);
    Take(to);
  };
  switch (e->key()) {
    case Qt::Key_Left:
      return go(-1);
    case Qt::Key_Right:
      return go(1);
    case Qt::Key_Up:
      return go(-columns_);
    case Qt::Key_Down:
      return go(columns_);
    case Qt::Key_Space:
      if (row >= 0) Choose(row, row, true);
      return;
    case Qt::Key_Escape:
      emit closed();
      return;
    default:
      QWidget::keyPressEvent(e);
  }
}

void SheetView::wheelEvent(QWheelEvent* e) {
  scroll_ -= e->angleDelta().y() * 0.6;
  Arrange();
}
void SheetView::resizeEvent(QResizeEvent*) { Arrange(); }
void SheetView::showEvent(QShowEvent*) { Arrange(); }
void SheetView::hideEvent(QHideEvent*) { sheet_->Rest(); }

}  // namespace samelight::window
