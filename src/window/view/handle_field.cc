#include "window/view/handle_field.h"

#include <algorithm>
#include <cmath>

#include <QtGui/QKeyEvent>
#include <QtGui/QPainter>
#include <QtWidgets/QLineEdit>
#include <QtWidgets/QMenu>

#include "window/model/handle_text.h"
#include "window/view/paint.h"

namespace samelight::window {
namespace {

using theme::Font;
using theme::Weight;
constexpr double kPxPerStep = 4, kDragFrom = 3;
constexpr int kKeepMs = 500;  // after the last notch or key
constexpr int kFlashMs = 260;
constexpr double kCoarse = 10;

}  // namespace

HandleField::HandleField(HandleModel* model, Instruments* instruments, int row, QWidget* parent)
    : QWidget(parent), model_(model), instruments_(instruments), row_(row) {
  setFocusPolicy(Qt::StrongFocus);
  setCursor(Qt::SizeHorCursor);
  keep_.setSingleShot(true);
  keep_.setInterval(kKeepMs);
  connect(&keep_, &QTimer::timeout, this, &HandleField::KeepNow);
  calm_.setSingleShot(true);
  calm_.setInterval(kFlashMs);
  connect(&calm_, &QTimer::timeout, this, [this] {
    flash_ = false;
    update();
  });
  connect(instruments, &Instruments::leaving, this, [this] {
    EndEdit(true);
    KeepNow();
  });
  Refresh();
}

void HandleField::Refresh() {
  const QString name = At(HandleModel::kName).data().toString();
  setAccessibleName(name);
  setAccessibleDescription(At(HandleModel::kValue).data().toString() + QLatin1Char(' ') +
                           At(HandleModel::kValue).data(HandleModel::kUnit).toString() +
                           QStringLiteral(", ") + At(HandleModel::kOrigin).data().toString());
  setToolTip(tr("%1: %2\nDrag sideways, turn the wheel, or type. Double click: back to solved.")
                 .arg(name, At(HandleModel::kValue).data(HandleModel::kHelp).toString()));
  update();
}

void HandleField::Flash() {
  flash_ = true;
  calm_.start();
  update();
}

void HandleField::paintEvent(QPaintEvent*) {
  QPainter p(this);
  p.setRenderHint(QPainter::Antialiasing);
  const QRectF box = QRectF(rect()).adjusted(3, 3, -3, -3);
  const QModelIndex at = At(HandleModel::kValue);
  const bool usable = at.isValid() && (at.flags() & Qt::ItemIsEditable);
  QColor fill = theme::kRaised;
  if (dragging_ || flash_)
    fill = theme::kPressed;
  else if (underMouse() && usable)
    fill = theme::kHover;
  else if (hasFocus())
    fill = theme::kWell;
  p.setPen(Qt::NoPen);
  p.setBrush(usable ? fill : QColor(0x30, 0x30, 0x30));
  p.drawRoundedRect(box, theme::kFieldRadius, theme::kFieldRadius);
  if (usable) {
    // The band shows what the solved value may be: its middle where the value stands, in steps of the field's
    // reach.
    const double value = at.data(HandleModel::kNumber).toDouble(),
                 solved = at.data(HandleModel::kSolved).toDouble();
    const double sigma = at.data(HandleModel::kSigmaNumber).toDouble(),
                 step = at.data(HandleModel::kStep).toDouble();
    const double reach = 60 * (step > 0 ? step : 1);  // half the width of the field
    const auto x_of = [&](double v) {
      return box.left() + 4 + std::clamp(0.5 + (v - solved) / (2 * reach), 0.0, 1.0) * (box.width() - 8);
    };
    const double y = box.bottom() - 2;
    if (std::isfinite(sigma) && sigma > 0)
      FillCrisp(p,
                {x_of(solved - sigma), y - 1, std::max(2.0, x_of(solved + sigma) - x_of(solved - sigma)), 2},
                QColor(0x6a, 0x6a, 0x6a));
    FillCrisp(p, {x_of(value) - 0.5, y - 2, 1, 4}, theme::kText1);
  }
  if (!edit_) {
    const QString unit = at.data(HandleModel::kUnit).toString();
    const QFont& small = Font(11);
    const double unit_w = unit.isEmpty() ? 0 : FiguresWidth(unit, small) + 4;
    const QRectF text = box.adjusted(4, 0, -6, -4);
    const QString value = usable ? at.data().toString() : QStringLiteral("–");
    DrawFigures(p, text.adjusted(0, 0, -unit_w, 0), Qt::AlignRight, value,
                Font(small_ ? 12 : 13, Weight::kMedium), usable ? theme::kText1 : theme::kTextOff);
    if (!unit.isEmpty())
      DrawText(p, text, Qt::AlignRight, unit, small,
               !usable                                          ? theme::kTextOff
               : fill == theme::kRaised || fill == theme::kWell ? theme::kText3
                                                                : theme::kText2);
    if (small_ && usable && at.data(HandleModel::kTouched).toBool()) {
      p.setPen(Qt::NoPen);
      p.setBrush(theme::kAccent);
      p.drawEllipse(QPointF(box.left() + 6, box.center().y() - 1), 2.5, 2.5);
    }
  }
  if (hasFocus() || edit_) FocusRing(p, box, theme::kFieldRadius);
}

void HandleField::KeepSoon() {
  pending_ = true;
  keep_.start();
}

void HandleField::KeepNow() {
  keep_.stop();
  if (!pending_) return;
  pending_ = false;
  instruments_->Keep();
}

void HandleField::Step(double steps) {
  model_->TryStep(row_, steps);
  KeepSoon();
}

void HandleField::mousePressEvent(QMouseEvent* e) {
  if (e->button() != Qt::LeftButton) return;
  KeepNow();
  pressed_ = true;
  dragging_ = false;
  press_x_ = e->position().x();
  steps_done_ = 0;
}

void HandleField::mouseMoveEvent(QMouseEvent* e) {
  if (!pressed_) return;
  const double dx = e->position().x() - press_x_;
  if (!dragging_ && std::abs(dx) < kDragFrom) return;
  dragging_ = true;
  const double coarse = e->modifiers() & Qt::ShiftModifier ? kCoarse : 1;
  const double steps = std::trunc(dx / kPxPerStep) * coarse;
  if (steps != steps_done_) {
    model_->TryStep(row_, steps - steps_done_);
    steps_done_ = steps;
  }
  update();
}

void HandleField::mouseReleaseEvent(QMouseEvent*) {
  if (!pressed_) return;
  pressed_ = false;
  if (dragging_) {
    dragging_ = false;
    instruments_->Keep();
    update();
  }
}

void HandleField::mouseDoubleClickEvent(QMouseEvent*) {
  pressed_ = false;
  model_->Reset(row_, HandleModel::To::kSolved);
}

void HandleField::wheelEvent(QWheelEvent* e) {
  const double notches = (e->angleDelta().y() + e->angleDelta().x()) / 120.0;
  Step(notches * (e->modifiers() & Qt::ShiftModifier ? kCoarse : 1));
  e->accept();
}

void HandleField::keyPressEvent(QKeyEvent* e) {
  const double coarse = e->modifiers() & Qt::ShiftModifier ? kCoarse : 1;
  switch (e->key()) {
    case Qt::Key_Up:
    case Qt::Key_Right:
      return Step(coarse);
    case Qt::Key_Down:
    case Qt::Key_Left:
      return Step(-coarse);
    case Qt::Key_Backspace:
    case Qt::Key_Delete:
      return model_->Reset(row_, HandleModel::To::kSolved);
    case Qt::Key_F2:
      return EditWith(At(HandleModel::kValue).data().toString(), true);
    case Qt::Key_Escape:
      if (pending_ || dragging_) {
        keep_.stop();
        pending_ = dragging_ = pressed_ = false;
        return instruments_->GiveUp();
      }
      break;
    default:
      break;
  }
  if ((e->modifiers() & Qt::ControlModifier) && e->key() == Qt::Key_L) {
    KeepNow();
    emit carryWanted(row_);
    return;
  }
  const QString text = e->text();
  if (!text.isEmpty() && !(e->modifiers() & (Qt::ControlModifier | Qt::AltModifier)) &&
      (text[0].isDigit() || QStringLiteral("+-=.,").contains(text[0])))
    return EditWith(text, false);
  QWidget::keyPressEvent(e);
}

void HandleField::keyReleaseEvent(QKeyEvent* e) { QWidget::keyReleaseEvent(e); }

void HandleField::EditWith(const QString& text, bool all) {
  KeepNow();
  if (!(At(HandleModel::kValue).flags() & Qt::ItemIsEditable)) return;
  if (!edit_) {
    edit_ = new QLineEdit(this);
    edit_->setAccessibleName(accessibleName());
    edit_->setFont(Font(13, Weight::kMedium));
    edit_->setAlignment(Qt::AlignRight);
    edit_->setFrame(false);
    edit_->setStyleSheet(QStringLiteral("border:0;padding:0 4px;background:transparent"));
    edit_->installEventFilter(this);
    connect(edit_, &QLineEdit::editingFinished, this, [this] { EndEdit(true); });
  }
  edit_->setGeometry(rect().adjusted(4, 3, -4, -5));
  edit_->setText(text);
  if (all) edit_->selectAll();
  edit_->show();
  edit_->setFocus();
  update();
}

bool HandleField::eventFilter(QObject* watched, QEvent* e) {
  if (watched == edit_ && e->type() == QEvent::KeyPress) {
    auto* key = static_cast<QKeyEvent*>(e);
    if (key->key() == Qt::Key_Escape) {
      EndEdit(false);
      return true;
    }
    if (key->key() == Qt::Key_Return || key->key() == Qt::Key_Enter) {
      EndEdit(true);
      return true;
    }
  }
  return QWidget::eventFilter(watched, e);
}

void HandleField::EndEdit(bool keep) {
  if (!edit_) return;
  QLineEdit* edit = edit_;
  edit_ = nullptr;
  const QString text = edit->text();
  const bool had_focus = edit->hasFocus();
  edit->blockSignals(true);
  edit->hide();
  edit->deleteLater();
  if (had_focus) setFocus();
  if (keep) model_->setData(At(HandleModel::kValue), text);
  update();
}

void HandleField::contextMenuEvent(QContextMenuEvent* e) {
  KeepNow();
  QMenu menu(this);
  const auto number = [&](double v) {
    return HandleText(v, At(HandleModel::kValue).data(HandleModel::kDigits).toInt());
  };
  menu.addAction(
      tr("Back to solved, %1").arg(number(At(HandleModel::kValue).data(HandleModel::kSolved).toDouble())),
      [this] { model_->Reset(row_, HandleModel::To::kSolved); });
  menu.addAction(tr("As the light has it, %1")
                     .arg(number(At(HandleModel::kValue).data(HandleModel::kOfLight).toDouble())),
                 [this] { model_->Reset(row_, HandleModel::To::kLight); });
  menu.addAction(tr("To nothing"), [this] { model_->Reset(row_, HandleModel::To::kNothing); });
  menu.addSeparator();
  menu.addAction(tr("Carry to its light\tCtrl+L"), [this] { emit carryWanted(row_); });
  menu.exec(e->globalPos());
}

void HandleField::focusOutEvent(QFocusEvent*) {
  KeepNow();
  update();
}

}  // namespace samelight::window
