#include "window/view/follow_line.h"

#include <algorithm>
#include <cmath>

#include <QtCore/QMimeData>
#include <QtGui/QMouseEvent>
#include <QtGui/QPainter>
#include <QtWidgets/QMenu>

#include "window/view/left_over_view.h"
#include "window/view/paint.h"

namespace samelight::window {
namespace {

using theme::Font;
using theme::Weight;
constexpr double kLeft = 108, kRight = 112;  // px kept for words and the value
constexpr double kLineY = 15;
constexpr int kRestMs = 500;  // after the last notch

}  // namespace

FollowLine::FollowLine(FollowModel* model, Instruments* instruments, QWidget* parent)
    : QWidget(parent), model_(model), instruments_(instruments) {
  setFocusPolicy(Qt::StrongFocus);
  setAcceptDrops(true);
  setAccessibleName(tr("Follow: from the neutral rendering to the film"));
  setFixedHeight(40);
  rest_.setSingleShot(true);
  rest_.setInterval(kRestMs);
  connect(&rest_, &QTimer::timeout, this, [this] { Keep(row_, tried_); });
  connect(instruments, &Instruments::leaving, this, &FollowLine::KeepNow);
  const auto refresh = [this] {
    setAccessibleDescription(tr("%1 percent").arg(std::lround(Percent(0))));
    update();
  };
  connect(model, &QAbstractItemModel::dataChanged, this, refresh);
  connect(model, &QAbstractItemModel::modelReset, this, refresh);
}

double FollowLine::Percent(int row) const {
  return model_->index(row).data(FollowModel::kPercent).toDouble();
}
double FollowLine::XOf(double percent) const {
  return kLeft + std::clamp(percent, 0.0, 100.0) / 100 * (width() - kLeft - kRight);
}
double FollowLine::PercentAt(double x) const {
  return std::clamp(std::round((x - kLeft) / std::max(1.0, width() - kLeft - kRight) * 100), 0.0, 100.0);
}

void FollowLine::paintEvent(QPaintEvent*) {
  QPainter p(this);
  const bool usable = instruments_->correction().has_value();
  const QColor text = usable ? theme::kText1 : theme::kTextOff;
  DrawText(p, {2, 0, 60, 2 * kLineY}, Qt::AlignLeft, tr("follow"), Font(13, Weight::kStrong), text);
  DrawText(p, {50, 0, kLeft - 60, 2 * kLineY}, Qt::AlignRight, tr("neutral"), Font(12),
           usable ? theme::kText2 : text);
  const double right = width() - kRight;
  DrawText(p, {right + 10, 0, 34, 2 * kLineY}, Qt::AlignLeft, tr("film"), Font(12),
           usable ? theme::kText2 : text);
  for (int i = 0; i <= 4; ++i) FillCrisp(p, {XOf(25.0 * i), kLineY - 9, 1, 4}, theme::kHairline);
  const double at = XOf(Percent(0));
  FillCrisp(p, {kLeft, kLineY - 0.5, right - kLeft, 1}, QColor(0x70, 0x70, 0x70));
  if (usable) FillCrisp(p, {kLeft, kLineY - 1, at - kLeft, 2}, theme::kText1);
  p.setRenderHint(QPainter::Antialiasing);
  double words_from = -1e9;
  for (int row = 1; usable && row < model_->rowCount(); ++row) {
    if (!model_->index(row).data(FollowModel::kOwn).toBool()) continue;
    const double x = XOf(Percent(row));
    const bool in_hand = row == row_ && (dragging_ || hasFocus());
    p.setPen(QPen(theme::kText1, 1.5, Qt::SolidLine, Qt::RoundCap, Qt::RoundJoin));
    p.setBrush(in_hand ? theme::kText1 : theme::kGround);
    p.drawPolygon(
        QPolygonF{QPointF(x, kLineY + 4), QPointF(x + 5, kLineY + 13), QPointF(x - 5, kLineY + 13)});
    const QString word =
        QStringLiteral("%1 %2 %").arg(model_->index(row).data().toString()).arg(std::lround(Percent(row)));
    const double wide = FiguresWidth(word, Font(11));
    double left = x - 9 - wide;
    if (left < words_from) left = x + 9;
    DrawFigures(p, {left, kLineY + 4, wide + 2, 14}, Qt::AlignLeft, word, Font(11), theme::kText2);
    words_from = left + wide + 8;
  }
  if (usable) {
    p.setPen(QPen(theme::kGround, 1.5));
    p.setBrush(theme::kMark);
    p.drawRoundedRect(QRectF(at - 3.5, kLineY - 8, 7, 16), 2, 2);
  }
  if (own_drop_ >= 0) FillCrisp(p, {XOf(own_drop_) - 0.5, kLineY - 10, 1, 24}, theme::kAccent);
  const QRectF field(width() - 62, kLineY - 12, 58, 24);
  p.setPen(Qt::NoPen);
  p.setBrush(theme::kRaised);
  p.drawRoundedRect(field, theme::kFieldRadius, theme::kFieldRadius);
  DrawFigures(p, field.adjusted(0, 0, -20, 0), Qt::AlignRight,
              !usable             ? QStringLiteral("–")
              : !typed_.isEmpty() ? typed_
                                  : QString::number(std::lround(Percent(0))),
              Font(13, Weight::kMedium), text);
  DrawText(p, field.adjusted(0, 0, -7, 0), Qt::AlignRight, QStringLiteral("%"), Font(11), theme::kText3);
  if (hasFocus())
    FocusRing(p, row_ == 0 ? field : QRectF(XOf(Percent(row_)) - 9, kLineY + 1, 18, 16), theme::kFieldRadius);
}

void FollowLine::Keep(int row, double percent) {
  rest_.stop();
  model_->Keep(row, percent, level_);
}

void FollowLine::KeepNow() {
  if (!typed_.isEmpty()) {
    Keep(row_, typed_.toDouble());
    typed_.clear();
  } else if (by_key_ || rest_.isActive()) {
    by_key_ = false;
    Keep(row_, tried_);
  }
}

void FollowLine::mousePressEvent(QMouseEvent* e) {
  if (e->button() != Qt::LeftButton || !instruments_->correction()) return;
  KeepNow();
  row_ = 0;
  if (e->position().y() > kLineY + 3)
    for (int row = 1; row < model_->rowCount(); ++row)
      if (model_->index(row).data(FollowModel::kOwn).toBool() &&
          std::abs(XOf(Percent(row)) - e->position().x()) < 9)
        row_ = row;
  if (e->position().x() < kLeft - 8 || e->position().x() > width() - kRight + 8) return update();
  dragging_ = true;
  tried_ = Percent(row_);
  mouseMoveEvent(e);
}

void FollowLine::mouseMoveEvent(QMouseEvent* e) {
  if (!dragging_) return;
  tried_ = PercentAt(e->position().x());
  model_->Try(row_, tried_);
  update();
}

void FollowLine::mouseReleaseEvent(QMouseEvent*) {
  if (!dragging_) return;
  dragging_ = false;
  Keep(row_, tried_);
}

void FollowLine::mouseDoubleClickEvent(QMouseEvent*) {
  dragging_ = false;
  if (instruments_->correction()) Keep(row_, row_ == 0 ? 100 : Percent(0));
}

void FollowLine::wheelEvent(QWheelEvent* e) {
  if (!instruments_->correction()) return;
  if (!rest_.isActive()) {
    KeepNow();
    tried_ = Percent(row_);
  }
  const double coarse = e->modifiers() & Qt::ShiftModifier ? 10 : 1;
  tried_ = std::clamp(tried_ + (e->angleDelta().y() > 0 ? coarse : -coarse), 0.0, 100.0);
  model_->Try(row_, tried_);
  rest_.start();
  e->accept();
}

void FollowLine::keyPressEvent(QKeyEvent* e) {
  if (rest_.isActive()) KeepNow();
  const double coarse = e->modifiers() & Qt::ShiftModifier ? 10 : 1;
  double by = 0;
  switch (e->key()) {
    case Qt::Key_Left:
    case Qt::Key_Down:
      by = -coarse;
      break;
    case Qt::Key_Right:
    case Qt::Key_Up:
      by = coarse;
      break;
    case Qt::Key_Space: {
      // Goes on to the next region that follows at its own share.
      for (int i = 1; i <= model_->rowCount(); ++i) {
        const int row = (row_ + i) % model_->rowCount();
        if (row == 0 || model_->index(row).data(FollowModel::kOwn).toBool()) {
          row_ = row;
          break;
        }
      }
      return update();
    }
    case Qt::Key_Return:
    case Qt::Key_Enter:
      if (typed_.isEmpty()) return QWidget::keyPressEvent(e);
      Keep(row_, typed_.toDouble());
      typed_.clear();
      return update();
    case Qt::Key_Backspace:
      typed_.chop(1);
      return update();
    case Qt::Key_Escape:
      if (!typed_.isEmpty()) {
        typed_.clear();
        instruments_->GiveUp();
        return update();
      }
      if (!by_key_ && !dragging_) return QWidget::keyPressEvent(e);
      by_key_ = dragging_ = false;
      instruments_->GiveUp();
      return update();
    default:
      if (e->text().size() == 1 && e->text()[0].isDigit() && instruments_->correction() &&
          (typed_ + e->text()).toDouble() <= 100) {
        typed_ += e->text();
        model_->Try(row_, typed_.toDouble());
        return update();
      }
      return QWidget::keyPressEvent(e);
  }
  if (!instruments_->correction()) return;
  typed_.clear();
  if (!by_key_) tried_ = Percent(row_);
  by_key_ = true;
  tried_ = std::clamp(tried_ + by, 0.0, 100.0);
  model_->Try(row_, tried_);
}

void FollowLine::keyReleaseEvent(QKeyEvent* e) {
  if (by_key_ && !e->isAutoRepeat()) {
    by_key_ = false;
    Keep(row_, tried_);
  } else {
    QWidget::keyReleaseEvent(e);
  }
}

void FollowLine::focusOutEvent(QFocusEvent*) {
  KeepNow();
  update();
}

void FollowLine::contextMenuEvent(QContextMenuEvent* e) {
  QMenu menu(this);
  for (int row = 1; row < model_->rowCount(); ++row) {
    const bool own = model_->index(row).data(FollowModel::kOwn).toBool();
    const QString name = model_->index(row).data().toString();
    menu.addAction(own ? tr("%1 goes with the rest").arg(name) : tr("%1 goes its own way").arg(name),
                   [this, row, own] {
                     Keep(row, own ? Percent(0) : std::max(0.0, Percent(0) - 15));
                     row_ = own ? 0 : row;
                     update();
                   });
  }
  menu.exec(e->globalPos());
}

void FollowLine::dragEnterEvent(QDragEnterEvent* e) {
  if (e->mimeData()->hasFormat(QLatin1String(kRegionMime))) e->acceptProposedAction();
}
void FollowLine::dragMoveEvent(QDragMoveEvent* e) {
  own_drop_ = PercentAt(e->position().x());
  update();
  e->acceptProposedAction();
}
void FollowLine::dropEvent(QDropEvent* e) {
  own_drop_ = -1;
  const int region = e->mimeData()->data(QLatin1String(kRegionMime)).toInt();
  if (region < 0 || region >= static_cast<int>(instruments_->regions().size())) return update();
  const record::RegionKind kind = instruments_->regions()[region].kind;
  const std::vector<record::RegionKind>& regions = job::FollowRegions();
  for (std::size_t i = 0; i < regions.size(); ++i)
    if (regions[i] == kind) {
      row_ = static_cast<int>(i) + 1;
      Keep(row_, PercentAt(e->position().x()));
      e->acceptProposedAction();
    }
  update();
}

}  // namespace samelight::window
