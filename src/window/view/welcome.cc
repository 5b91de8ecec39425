#include "window/view/welcome.h"

#include <QtCore/QMimeData>
#include <QtCore/QUrl>
#include <QtGui/QDragEnterEvent>
#include <QtGui/QPainter>

#include "window/view/paint.h"

namespace samelight::window {
namespace {

using theme::Font;
using theme::Weight;

}  // namespace

Welcome::Welcome(QWidget* parent) : QWidget(parent) {
  setAcceptDrops(true);
  setAttribute(Qt::WA_OpaquePaintEvent);
  setAccessibleName(tr("No session is open"));
  choose_ = new Button(tr("Choose folders"), tr("Ctrl N"), Button::Look::kStrong, this);
  open_ = new Button(tr("Open a session"), tr("Ctrl O"), Button::Look::kOutline, this);
  open_->SetOnEasel(true);
  setFocusProxy(choose_);
  connect(choose_, &Button::clicked, this, &Welcome::newWanted);
  connect(open_, &Button::clicked, this, &Welcome::openWanted);
}

void Welcome::SetRecent(const std::vector<std::filesystem::path>& recent) {
  for (Button* button : recent_) button->deleteLater();
  recent_.clear();
  for (const std::filesystem::path& file : recent) {
    if (recent_.size() == 5) break;
    const QString path = QString::fromStdString(file.string());
    const QString shown = QString::fromStdString((file.parent_path().filename() / file.stem()).string());
    auto* button = new Button(shown, QString::fromStdString(file.parent_path().parent_path().string()),
                              Button::Look::kQuiet, this);
    connect(button, &Button::clicked, this, [this, path] { emit recentWanted(path); });
    button->SetOnEasel(true);
    button->show();
    recent_.push_back(button);
  }
  resizeEvent(nullptr);
  update();
}

void Welcome::resizeEvent(QResizeEvent*) {
  const QPoint c(width() / 2, height() / 2 - 24);
  const QSize a = choose_->sizeHint(), b = open_->sizeHint();
  const int x = c.x() - (a.width() + 8 + b.width()) / 2;
  choose_->setGeometry(x, c.y() + 30, a.width(), a.height());
  open_->setGeometry(x + a.width() + 8, c.y() + 30, b.width(), b.height());
  int y = c.y() + 128;
  for (Button* button : recent_) {
    const QSize size = button->sizeHint();
    button->setGeometry(c.x() - size.width() / 2, y, size.width(), 28);
    y += 30;
  }
}

QRectF Welcome::Half(bool film) const {
  const QRectF all = QRectF(rect()).adjusted(32, 32, -32, -32);
  const double w = (all.width() - 16) / 2;
  return film ? QRectF(all.left(), all.top(), w, all.height())
              : QRectF(all.left() + w + 16, all.top(), w, all.height());
}

void Welcome::paintEvent(QPaintEvent*) {
  QPainter p(this);
  p.fillRect(rect(), theme::kEasel);
  if (over_ >= 0) {
    p.setRenderHint(QPainter::Antialiasing);
    for (const bool film : {true, false}) {
      const QRectF half = Half(film);
      const bool here = over_ == (film ? 0 : 1);
      QPen pen(here ? theme::kMark : theme::kText3, here ? 2 : 1);
      if (!here) pen.setDashPattern({4, 4});
      p.setPen(pen);
      p.setBrush(here ? QColor(255, 255, 255, 16) : QColor(0, 0, 0, 0));
      p.drawRoundedRect(half, 6, 6);
      DrawText(p, {half.left(), half.top() + 20, half.width(), 30}, Qt::AlignHCenter,
               film ? tr("The lab's scans") : tr("The digital frames"), Font(17, Weight::kStrong),
               theme::kText1);
    }
    return;
  }
  const double y = height() / 2.0 - 24;
  DrawText(p, {0, y - 40, static_cast<double>(width()), 30}, Qt::AlignHCenter,
           tr("Drop the lab's scans and the digital frames here."), Font(20, Weight::kStrong), theme::kText1);
  DrawText(p, {0, y - 8, static_cast<double>(width()), 20}, Qt::AlignHCenter,
           tr("Scans to the left, frames to the right. Originals are only ever read."), Font(13),
           theme::kText1);
  if (!recent_.empty()) {
    Hairline(p, width() / 2.0 - 150, y + 92, width() / 2.0 + 150, y + 92, QColor(0x78, 0x78, 0x78));
    DrawText(p, {0, y + 102, static_cast<double>(width()), 20}, Qt::AlignHCenter, tr("Lately"), Font(12),
             theme::kText1);
  }
}

void Welcome::dragEnterEvent(QDragEnterEvent* e) {
  if (e->mimeData()->hasUrls()) e->acceptProposedAction();
}
void Welcome::dragMoveEvent(QDragMoveEvent* e) {
  over_ = e->position().x() < width() / 2.0 ? 0 : 1;
  update();
  e->acceptProposedAction();
}
void Welcome::dragLeaveEvent(QDragLeaveEvent*) {
  over_ = -1;
  update();
}
void Welcome::dropEvent(QDropEvent* e) {
  const bool film = e->position().x() < width() / 2.0;
  over_ = -1;
  QStringList paths;
  for (const QUrl& url : e->mimeData()->urls())
    if (url.isLocalFile()) paths += url.toLocalFile();
  update();
  e->acceptProposedAction();
  if (!paths.isEmpty()) emit dropped(paths, film);
}

}  // namespace samelight::window
