#include "window/view/slip.h"

#include <algorithm>

#include <QtCore/QMimeData>
#include <QtCore/QUrl>
#include <QtGui/QDragEnterEvent>
#include <QtGui/QKeyEvent>
#include <QtGui/QPainter>
#include <QtWidgets/QApplication>
#include <QtWidgets/QFileDialog>
#include <QtWidgets/QScrollArea>

#include "window/view/paint.h"

namespace samelight::window {
namespace {

constexpr int kWidth = 500;

}  // namespace

Slip::Slip(const QString& title, QWidget* parent) : QWidget(parent) {
  setAccessibleName(title);
  setFocusPolicy(Qt::ClickFocus);
  outer_ = new QVBoxLayout(this);
  outer_->setContentsMargins(24, 16, 24, 20);
  outer_->setSpacing(12);
  auto* head = new QHBoxLayout;
  head->addWidget(new Label(title, 15, true, theme::kText1, this), 1, Qt::AlignVCenter);
  auto* close = new Button(tr("Close"), tr("Esc"), Button::Look::kQuiet, this);
  connect(close, &Button::clicked, this, &Slip::closed);
  head->addWidget(close);
  outer_->addLayout(head);
  auto* scroll = scroll_ = new QScrollArea(this);
  scroll->setWidgetResizable(true);
  scroll->setFrameShape(QFrame::NoFrame);
  scroll->setHorizontalScrollBarPolicy(Qt::ScrollBarAlwaysOff);
  scroll->setFocusPolicy(Qt::NoFocus);
  scroll->viewport()->setAutoFillBackground(false);
  auto* inside = new QWidget;
  inside->setAutoFillBackground(false);
  body_ = new QVBoxLayout(inside);
  body_->setContentsMargins(2, 2, 8, 2);
  body_->setSpacing(10);
  body_->setAlignment(Qt::AlignTop);
  scroll->setWidget(inside);
  outer_->addWidget(scroll, 1);
}

void Slip::PlaceIn(const QRect& room, int wished_top) {
  const int w = std::min(kWidth, room.width() - 32);
  ensurePolished();
  const int inside = body_->totalHeightForWidth(w - 48 - 10);
  const int needed = std::max(inside > 0 ? inside : body_->sizeHint().height(), 80) + (buttons_ ? 160 : 116);
  const int h = std::min(needed, room.height() - 24);
  // Where it hides least: on the easel, and as far up as it must.
  const int top =
      std::clamp(wished_top + 12, room.top() + 12, std::max(room.top() + 12, room.bottom() - h - 11));
  setGeometry(room.right() - w - 15, top, w, h);
}

Label* Slip::AddWords(const QString& words, const QColor& colour) {
  auto* label = new Label(words, 12, false, colour, this);
  body_->addWidget(label);
  return label;
}

QLineEdit* Slip::AddField(const QString& name, const QString& text) {
  body_->addWidget(new Label(name, 12, true, theme::kText1, this));
  auto* edit = new QLineEdit(text, this);
  edit->setAccessibleName(name);
  body_->addWidget(edit);
  return edit;
}

Button* Slip::AddButton(const QString& word, Button::Look look) {
  if (!buttons_) {
    buttons_ = new QHBoxLayout;
    buttons_->addStretch(1);
    outer_->addLayout(buttons_);
  }
  auto* button = new Button(word, QString(), look, this);
  buttons_->addWidget(button);
  return button;
}

void Slip::paintEvent(QPaintEvent*) {
  QPainter p(this);
  p.setRenderHint(QPainter::Antialiasing);
  p.setPen(QPen(theme::kHairline, 1));
  p.setBrush(theme::kGround);
  p.drawRoundedRect(QRectF(rect()).adjusted(0.5, 0.5, -0.5, -0.5), 6, 6);
}

void Slip::keyPressEvent(QKeyEvent* e) {
  if (e->key() == Qt::Key_Escape) {
    emit closed();
    return;
  }
  // What is typed into a slip means nothing to the window behind it, except its function keys.
  if (e->key() >= Qt::Key_F1 && e->key() <= Qt::Key_F35) QWidget::keyPressEvent(e);
}

// Tab stays within the slip.
bool Slip::focusNextPrevChild(bool next) {
  QWidget* at = QApplication::focusWidget();
  if (!at || !isAncestorOf(at)) at = this;
  for (QWidget* w = next ? at->nextInFocusChain() : at->previousInFocusChain(); w && w != at;
       w = next ? w->nextInFocusChain() : w->previousInFocusChain())
    if (isAncestorOf(w) && w->isVisible() && w->isEnabled() && (w->focusPolicy() & Qt::TabFocus)) {
      w->setFocus(next ? Qt::TabFocusReason : Qt::BacktabFocusReason);
      if (scroll_->isAncestorOf(w)) scroll_->ensureWidgetVisible(w, 0, 40);
      return true;
    }
  return true;
}

FolderField::FolderField(const QString& name, const QString& button, bool many, QWidget* parent)
    : QWidget(parent), many_(many) {
  setAcceptDrops(true);
  auto* column = new QVBoxLayout(this);
  column->setContentsMargins(0, 0, 0, 0);
  column->setSpacing(4);
  column->addWidget(new Label(name, 12, true, theme::kText1, this));
  auto* row = new QHBoxLayout;
  edit_ = new QLineEdit(this);
  edit_->setAccessibleName(name);
  edit_->setAcceptDrops(false);
  edit_->setPlaceholderText(many ? tr("folders, parted by ;") : tr("folder"));
  row->addWidget(edit_, 1);
  auto* choose = new Button(button, QString(), Button::Look::kOutline, this);
  choose->setAccessibleName(tr("%1 for %2").arg(button, name));
  row->addWidget(choose);
  column->addLayout(row);
  connect(edit_, &QLineEdit::textChanged, this, &FolderField::changed);
  connect(choose, &Button::clicked, this, [this, name] {
    const QString folder =
        QFileDialog::getExistingDirectory(window(), name, folders().isEmpty() ? QString() : folders().last());
    if (folder.isEmpty()) return;
    QStringList all = many_ ? folders() : QStringList();
    if (!all.contains(folder)) all += folder;
    SetFolders(all);
  });
}

QStringList FolderField::folders() const {
  QStringList out;
  for (const QString& part : many_ ? edit_->text().split(QLatin1Char(';')) : QStringList{edit_->text()})
    if (!part.trimmed().isEmpty()) out += part.trimmed();
  return out;
}

void FolderField::SetFolders(const QStringList& folders) {
  edit_->setText(folders.join(QStringLiteral("; ")));
}

void FolderField::dragEnterEvent(QDragEnterEvent* e) {
  if (e->mimeData()->hasUrls()) e->acceptProposedAction();
}
void FolderField::dropEvent(QDropEvent* e) {
  QStringList all = many_ ? folders() : QStringList();
  for (const QUrl& url : e->mimeData()->urls())
    if (url.isLocalFile() && !all.contains(url.toLocalFile())) all += url.toLocalFile();
  SetFolders(all);
  e->acceptProposedAction();
}

}  // namespace samelight::window
