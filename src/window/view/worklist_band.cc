#include "window/view/worklist_band.h"

#include <cmath>

#include <QtCore/QTimer>
#include <QtGui/QMouseEvent>
#include <QtGui/QPainter>
#include <QtGui/QTextLayout>

#include "window/view/paint.h"

namespace samelight::window {
namespace {

using theme::Font;
using theme::Weight;
constexpr int kSayMs = 4000, kSayMsEach = 70;  // at least; for each letter of what is longer

// A text over two lines of `box`, the second elided at the end.
void DrawTwoLines(QPainter& p, const QRectF& box, const QString& text, const QFont& font) {
  QTextLayout layout(text, font);
  layout.beginLayout();
  QTextLine first = layout.createLine();
  first.setLineWidth(box.width());
  const int cut = first.textLength();
  layout.endLayout();
  const double pitch = font.pixelSize() + 5;
  const QRectF above(box.left(), box.center().y() - pitch, box.width(), pitch);
  DrawText(p, above, Qt::AlignLeft, text.left(cut).trimmed(), font, theme::kText1);
  DrawText(p, above.translated(0, pitch), Qt::AlignLeft, text.mid(cut).trimmed(), font, theme::kText1);
}

}  // namespace

QString TimeLeft(const std::optional<double>& seconds) {
  if (!seconds) return {};
  if (*seconds < 8) return QObject::tr("a few seconds left");
  if (*seconds < 55) return QObject::tr("about %1 s left").arg(std::lround(*seconds / 5) * 5);
  return QObject::tr("about %1 min left").arg(std::max(1L, std::lround(*seconds / 60)));
}

WorklistBand::WorklistBand(DeskLink* link, Hand* hand, Worklist* worklist, QWidget* parent)
    : QWidget(parent), link_(link), hand_(hand), worklist_(worklist), bands_(theme::BandsFor(1600, 1000)) {
  setAttribute(Qt::WA_OpaquePaintEvent);
  setAccessibleName(tr("Worklist"));
  settled_ = new Count(tr("settled"), false, this);
  to_check_ = new Count(tr("to check"), true, this);
  unpaired_ = new Count(tr("unpaired"), false, this);
  filter_ = new Button(tr("Only"), QString(), Button::Look::kQuiet, this);
  filter_->SetMenuMark(true);
  filter_->setAccessibleDescription(tr("walk only through one light, roll, source or reason"));
  previous_ = new Button(tr("Previous"), tr("Page Up"), Button::Look::kOutline, this);
  next_ = new Button(tr("Next"), tr("Page Down"), Button::Look::kOutline, this);
  settle_ = new Button(tr("Settle"), tr("Enter"), Button::Look::kStrong, this);
  deliver_ = new Button(tr("Deliver"), QString(), Button::Look::kOutline, this);
  session_ = new Button(tr("Session"), QString(), Button::Look::kQuiet, this);
  session_->SetMenuMark(true);
  stop_ = new Button(tr("Stop"), QString(), Button::Look::kOutline, this);
  stop_->hide();
  update_ = new Button(tr("Bring up to date"), tr("U"), Button::Look::kOutline, this);
  update_->setToolTip(tr("Pairing and matching have not heard yet what you said"));
  update_->hide();
  said_until_ = new QTimer(this);
  said_until_->setSingleShot(true);
  connect(said_until_, &QTimer::timeout, this, [this] {
    said_.clear();
    Refresh();
  });
  using Which = WorklistFilter::Which;
  connect(settled_, &Count::clicked, this, [this] { PickCount(Which::kSettled); });
  connect(to_check_, &Count::clicked, this, [this] { PickCount(Which::kToCheck); });
  connect(unpaired_, &Count::clicked, this, [this] { PickCount(Which::kUnpaired); });
  connect(filter_, &Button::clicked, this,
          [this] { emit filterWanted(filter_->mapToGlobal(filter_->rect().bottomLeft())); });
  connect(previous_, &Button::clicked, this, &WorklistBand::Previous);
  connect(next_, &Button::clicked, this, &WorklistBand::Next);
  connect(settle_, &Button::clicked, this, &WorklistBand::Settle);
  connect(deliver_, &Button::clicked, this, &WorklistBand::deliverWanted);
  connect(stop_, &Button::clicked, this, &WorklistBand::stopWanted);
  connect(update_, &Button::clicked, this, &WorklistBand::updateWanted);
  connect(session_, &Button::clicked, this,
          [this] { emit sessionWanted(session_->mapToGlobal(session_->rect().bottomRight())); });
  connect(worklist, &Worklist::countsChanged, this, &WorklistBand::Refresh);
  connect(hand, &Hand::changed, this, &WorklistBand::Refresh);
  connect(link, &DeskLink::jobMoved, this, &WorklistBand::Refresh);
  connect(link, &DeskLink::jobEnded, this, &WorklistBand::Refresh);
  connect(link, &DeskLink::opened, this, &WorklistBand::Refresh);
  Refresh();
}

void WorklistBand::SetBands(const theme::Bands& bands) {
  bands_ = bands;
  setFixedHeight(bands.worklist);
  previous_->SetKeyShown(!bands.narrow);
  next_->SetKeyShown(!bands.narrow);
  settle_->SetKeyShown(!bands.narrow);
  for (Count* count : {settled_, to_check_, unpaired_}) count->SetTight(bands.narrow);
  Arrange();
}

void WorklistBand::Refresh() {
  const std::shared_ptr<const job::Book> book = link_->book();
  const bool open = link_->desk() != nullptr, any = !book->frames.empty();
  settled_->SetCount(book->settled);
  to_check_->SetCount(book->to_check);
  unpaired_->SetCount(book->unpaired + book->loose_scans);
  const auto which = worklist_->filter().which;
  settled_->setChecked(which == WorklistFilter::Which::kSettled);
  to_check_->setChecked(which == WorklistFilter::Which::kToCheck);
  unpaired_->setChecked(which == WorklistFilter::Which::kUnpaired);
  for (QWidget* w : std::initializer_list<QWidget*>{settled_, to_check_, unpaired_, filter_, previous_, next_,
                                                    settle_, deliver_})
    w->setVisible(open && any);
  const job::FrameRow* row = book->Frame(hand_->frame());
  settle_->setText(row && row->state == job::FrameState::kSettled && row->by_person ? tr("Unsettle")
                                                                                    : tr("Settle"));
  settle_->setEnabled(row && row->solved);
  const bool more = worklist_->rowCount() > 0;
  previous_->setEnabled(more);
  next_->setEnabled(more);
  deliver_->setEnabled(open && book->matched);
  filter_->setText(FilterText());
  const std::optional<job::Running> running = link_->desk() ? link_->desk()->job() : std::nullopt;
  stop_->setVisible(running.has_value());
  update_->setVisible(!running && open && any && (book->stale || !book->matched));
  busy_ = !running             ? -1
          : running->total > 0 ? static_cast<double>(running->done) / static_cast<double>(running->total)
                               : 2;
  job_.clear();
  if (running) {
    job_ = QString::fromStdString(running->stage.empty() ? running->what : running->stage);
    if (!job_.isEmpty()) job_[0] = job_[0].toUpper();
    if (running->total > 0) job_ += tr(", %1 of %2").arg(running->done).arg(running->total);
    const QString left = TimeLeft(running->seconds_left);
    if (!left.isEmpty()) job_ += QStringLiteral(", ") + left;
  }
  const Worklist::Words words = worklist_->WordsOf(InHand());
  setAccessibleDescription(words.subject + QStringLiteral(". ") + words.reason + QLatin1Char(' ') +
                           words.beside);
  if (said_.isEmpty()) setToolTip(accessibleDescription());  // all of it, where the line is too short
  Arrange();
  update();
}

QString WorklistBand::FilterText() const {
  const WorklistFilter& f = worklist_->filter();
  const std::shared_ptr<const job::Book> book = link_->book();
  QStringList parts;
  if (f.light && *f.light < static_cast<int>(book->lights.size()))
    parts += QString::fromStdString(book->lights[*f.light].name);
  if (f.roll && *f.roll < static_cast<int>(book->rolls.size()))
    parts += QString::fromStdString(book->rolls[*f.roll].name);
  if (!f.source.isEmpty()) parts += f.source;
  if (!f.reason.isEmpty()) parts += f.reason;
  return parts.isEmpty() ? tr("Only") : tr("Only %1").arg(parts.join(QStringLiteral(", ")));
}

void WorklistBand::Arrange() {
  const int h = height(), gap = bands_.narrow ? 2 : 8;
  int x = bands_.margin - (bands_.narrow ? 4 : 8);
  const auto from_left = [&](QWidget* w, int after) {
    const QSize size = w->sizeHint();
    w->setGeometry(x, (h - size.height()) / 2, size.width(), size.height());
    if (!w->isHidden()) x += size.width() + after;
  };
  for (Count* count : {settled_, to_check_, unpaired_}) from_left(count, gap);
  if (filter_->sizeHint().width() > 220) filter_->setMaximumWidth(220);
  from_left(filter_, gap);
  int right = width() - bands_.margin + 6;
  const auto from_right = [&](QWidget* w, int before) {
    const QSize size = w->sizeHint();
    w->setGeometry(right - size.width(), (h - size.height()) / 2, size.width(), size.height());
    if (!w->isHidden()) right -= size.width() + before;
  };
  from_right(session_, 4);
  from_right(deliver_, 4);
  from_right(settle_, 4);
  from_right(next_, 4);
  from_right(previous_, 12);
  from_right(update_, 8);
  from_right(stop_, 8);
}

QRectF WorklistBand::ReasonBox() const {
  const double left =
      filter_->isHidden() ? bands_.margin : filter_->geometry().right() + (bands_.narrow ? 8 : 16);
  double right = previous_->isHidden() ? session_->x() - 16 : previous_->x() - 16;
  if (!update_->isHidden()) right = update_->x() - 12;
  if (!stop_->isHidden()) right = stop_->x() - 12;
  return {left, 0, std::max(0.0, right - left), static_cast<double>(height())};
}

void WorklistBand::paintEvent(QPaintEvent*) {
  QPainter p(this);
  p.fillRect(rect(), theme::kRaised);
  const QRectF box = ReasonBox();
  const double baseline = std::round(height() / 2.0 + 5);
  double x = box.left();
  if (!filter_->isHidden()) {
    Hairline(p, x, height() / 2.0 - 12, x, height() / 2.0 + 12, theme::kHairline);
    x += bands_.narrow ? 12 : 24;
  }
  const int px = bands_.narrow ? 14 : 15;
  double right = box.right();
  if (!job_.isEmpty()) {
    const double wide = std::min(FiguresWidth(job_, Font(12)), box.width() * (said_.isEmpty() ? 0.6 : 0.5));
    DrawText(p, {right - wide, 0, wide + 1, static_cast<double>(height())}, Qt::AlignRight, job_, Font(12),
             theme::kText2);
    right -= wide + 20;
  }
  if (!said_.isEmpty()) {
    if (x + FiguresWidth(said_, Font(px, Weight::kMedium)) <= right)
      DrawRuns(p, x, baseline, right, {{said_, Font(px, Weight::kMedium)}});
    else
      DrawTwoLines(p, {x, 0, right - x, static_cast<double>(height())}, said_, Font(12, Weight::kMedium));
  } else if (link_->desk() && InHand().valid()) {
    Worklist::Words words = worklist_->WordsOf(InHand());
    const std::shared_ptr<const job::Book> book = link_->book();
    if (hand_->frame().valid() && book->matched && book->to_check == 0 && job_.isEmpty())
      words.beside = tr("Nothing is left to check: deliver.");
    const auto reason = [&](int size) -> std::vector<Run> {
      return {{words.reason + QLatin1Char(' '), Font(size, Weight::kMedium)},
              {words.beside, Font(size), theme::kText3}};
    };
    std::vector<Run> line = reason(px);
    line.insert(line.begin(), Run{words.subject + QStringLiteral("  "), Font(px, Weight::kStrong)});
    double wide = 0;
    for (const Run& run : line) wide += FiguresWidth(run.text, run.font);
    if (x + wide <= right) {
      DrawRuns(p, x, baseline, right, line);
    } else {  // the reason has a line of its own
      DrawRuns(p, x, baseline - 9, right, {{words.subject, Font(13, Weight::kStrong)}});
      DrawRuns(p, x, baseline + 8, right, reason(12));
    }
  } else if (!link_->desk()) {
    DrawRuns(p, x, baseline, right, {{QStringLiteral("Samelight"), Font(px, Weight::kStrong)}});
  }
  if (busy_ >= 0) {
    FillCrisp(p, {0, height() - 2.0, static_cast<double>(width()), 2}, theme::kHairline);
    if (busy_ <= 1) FillCrisp(p, {0, height() - 2.0, width() * busy_, 2}, theme::kText3);
  } else {
    Hairline(p, 0, height() - 1, width(), height() - 1, theme::kGround);
  }
}

void WorklistBand::resizeEvent(QResizeEvent*) { Arrange(); }
void WorklistBand::mousePressEvent(QMouseEvent* e) {
  if (ReasonBox().contains(e->position())) emit filterWanted(e->globalPosition().toPoint());
}

void WorklistBand::Say(const QString& words) {
  said_ = words;
  setAccessibleDescription(words);
  setToolTip(words);
  said_until_->start(std::max(kSayMs, kSayMsEach * static_cast<int>(words.size())));
  update();
}

void WorklistBand::PickCount(WorklistFilter::Which which) {
  WorklistFilter filter = worklist_->filter();
  filter.which = which;
  worklist_->SetFilter(filter);
  Refresh();
  Next();
}

void WorklistBand::Next() {
  const PhotoId next = worklist_->Next(InHand());
  if (next.valid()) hand_->Take(next);
}
void WorklistBand::Previous() {
  const PhotoId next = worklist_->Previous(InHand());
  if (next.valid()) hand_->Take(next);
}
PhotoId WorklistBand::InHand() const { return hand_->frame().valid() ? hand_->frame() : hand_->scan(); }

void WorklistBand::Settle() {
  const job::FrameRow* row = link_->book()->Frame(hand_->frame());
  if (!row || !link_->desk() || !row->solved) return;
  const PhotoId frame = hand_->frame();
  const bool settle = !(row->state == job::FrameState::kSettled && row->by_person);
  const PhotoId next = worklist_->Next(frame);
  link_->desk()->Settle({frame}, settle);
  if (settle && next.valid() && worklist_->filter().which != WorklistFilter::Which::kAll) hand_->Take(next);
}

}  // namespace samelight::window
