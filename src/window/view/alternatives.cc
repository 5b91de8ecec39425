#include "window/view/alternatives.h"

#include <QtGui/QKeyEvent>
#include <QtGui/QPainter>
#include <QtWidgets/QHBoxLayout>

#include "window/view/controls.h"
#include "window/view/paint.h"

namespace samelight::window {
namespace {

constexpr int kW = 132, kH = 88;

// One frame with its words.
class Choice : public QAbstractButton {
 public:
  Choice(PhotoId frame, const QString& name, const QString& words, Thumbs* thumbs, QWidget* parent)
      : QAbstractButton(parent), frame_(frame), words_(words), thumbs_(thumbs) {
    setText(name);
    setAccessibleName(name + QStringLiteral(", ") + words);
    setFocusPolicy(Qt::StrongFocus);
    setAttribute(Qt::WA_Hover);
    setFixedSize(kW, kH + 40);
  }

 protected:
  void paintEvent(QPaintEvent*) override {
    QPainter p(this);
    p.setRenderHint(QPainter::SmoothPixmapTransform);
    const QRectF box(0, 0, kW, kH);
    FillCrisp(p, box, theme::kRail);
    if (const QImage* picture = thumbs_->Get(frame_)) DrawSlit(p, box, *picture);
    if (underMouse() || hasFocus()) InHandFrame(p, box);
    DrawText(p, {0, kH + 4.0, kW, 16}, Qt::AlignLeft, text(), theme::Font(12, theme::Weight::kStrong),
             theme::kText1);
    DrawText(p, {0, kH + 20.0, kW, 16}, Qt::AlignLeft, words_, theme::Font(11), theme::kText2);
  }
  void keyPressEvent(QKeyEvent* e) override {
    if (e->key() == Qt::Key_Return || e->key() == Qt::Key_Enter) return click();
    QAbstractButton::keyPressEvent(e);
  }

 private:
  PhotoId frame_;
  QString words_;
  Thumbs* thumbs_;
};

}  // namespace

Alternatives::Alternatives(DeskLink* link, PhotoId scan, Thumbs* thumbs, QWidget* parent)
    : QWidget(parent, Qt::Popup) {
  setAttribute(Qt::WA_DeleteOnClose);
  setAccessibleName(tr("Frames that this scan could belong to"));
  auto* column = new QVBoxLayout(this);
  column->setContentsMargins(16, 14, 16, 14);
  column->setSpacing(10);
  const std::shared_ptr<const job::Book> book = link->book();
  const job::ScanRow* row = book->Scan(scan);
  if (!row) return;
  const bool tied = row->pair.kind != record::PairKind::kNone;
  const QString told = tied ? tr("Scan %1 is tied to the first. Click another to tie it there.")
                       : row->pair.alternatives.empty()
                           ? tr("No frame comes near scan %1. Its loose end can still be drawn to one.")
                           : tr("No frame is sure enough for scan %1. Click the one that it belongs to.");
  column->addWidget(new Label(told.arg(QString::fromStdString(row->name)), 12, false, theme::kText2, this));
  auto* choices = new QHBoxLayout;
  choices->setSpacing(10);
  const auto add = [&](PhotoId frame, record::PairKind kind, double confidence, bool by_hand) {
    const job::FrameRow* f = book->Frame(frame);
    if (!f) return;
    const QString words = by_hand ? tr("your word")
                                  : tr("%1, confidence %2")
                                        .arg(kind == record::PairKind::kMoment ? tr("moment") : tr("light"))
                                        .arg(confidence, 0, 'f', 2);
    auto* choice = new Choice(frame, QString::fromStdString(f->name), words, thumbs, this);
    connect(choice, &Choice::clicked, this, [this, scan, frame] {
      emit chosen(scan, frame);
      close();
    });
    choices->addWidget(choice);
    if (choices->count() <= (tied ? 2 : 1)) choice->setFocus();  // the first that is not said yet
  };
  if (tied) add(row->pair.frame, row->pair.kind, row->pair.confidence, row->pair.by_person);
  for (const record::PairCandidate& other : row->pair.alternatives)
    if (other.frame != row->pair.frame) add(other.frame, other.kind, other.confidence, false);
  choices->addStretch(1);
  column->addLayout(choices);
  std::vector<PhotoId> offered;
  if (tied)
    offered = {row->pair.frame};
  else
    for (const record::PairCandidate& other : row->pair.alternatives) offered.push_back(other.frame);
  if (offered.empty()) return;
  refuse_ = new Button(tied ? tr("Cut this ribbon") : tr("None of these"), tr("Delete"),
                       Button::Look::kOutline, this);
  connect(refuse_, &Button::clicked, this, [this, scan, offered] {
    emit refused(scan, offered);
    close();
  });
  column->addWidget(refuse_);
}

void Alternatives::keyPressEvent(QKeyEvent* e) {
  if (e->key() == Qt::Key_Delete && refuse_) return refuse_->click();
  if (e->key() == Qt::Key_Left || e->key() == Qt::Key_Right) {
    focusNextPrevChild(e->key() == Qt::Key_Right);
    return;
  }
  QWidget::keyPressEvent(e);
}

void Alternatives::paintEvent(QPaintEvent*) {
  QPainter p(this);
  p.fillRect(rect(), theme::kGround);
  p.setPen(QPen(theme::kHairline, 1));
  p.drawRect(QRectF(rect()).adjusted(0.5, 0.5, -0.5, -0.5));
}

}  // namespace samelight::window
