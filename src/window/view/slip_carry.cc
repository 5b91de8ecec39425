// Where a touch goes, and what the program asks and tells besides.
#include <algorithm>

#include <QtGui/QPainter>

#include "window/model/handle_text.h"
#include "window/view/paint.h"
#include "window/view/slips.h"

namespace samelight::window {
namespace {

constexpr int kThumbW = 78, kThumbH = 52, kGap = 4, kMostRows = 8;

}  // namespace

ThumbGrid::ThumbGrid(Thumbs* thumbs, QWidget* parent) : QWidget(parent), thumbs_(thumbs) {
  QSizePolicy policy(QSizePolicy::Expanding, QSizePolicy::Preferred);
  policy.setHeightForWidth(true);
  setSizePolicy(policy);
}
void ThumbGrid::Show(std::vector<PhotoId> photos) {
  photos_ = std::move(photos);
  updateGeometry();
  update();
}
int ThumbGrid::heightForWidth(int width) const {
  const int columns = std::max(1, (width + kGap) / (kThumbW + kGap));
  const int rows = std::min(kMostRows, (static_cast<int>(photos_.size()) + columns - 1) / columns);
  return rows * (kThumbH + kGap);
}
QSize ThumbGrid::sizeHint() const { return {400, heightForWidth(400)}; }
void ThumbGrid::paintEvent(QPaintEvent*) {
  QPainter p(this);
  p.setRenderHint(QPainter::SmoothPixmapTransform);
  const int columns = std::max(1, (width() + kGap) / (kThumbW + kGap));
  for (int i = 0; i < static_cast<int>(photos_.size()); ++i) {
    const int row = i / columns;
    if (row >= kMostRows) break;
    const QRectF box((i % columns) * (kThumbW + kGap), row * (kThumbH + kGap), kThumbW, kThumbH);
    FillCrisp(p, box, theme::kRail);
    if (row == kMostRows - 1 && i % columns == columns - 1 && i + 1 < static_cast<int>(photos_.size()))
      DrawText(p, box, Qt::AlignHCenter, tr("%1 more").arg(photos_.size() - static_cast<std::size_t>(i)),
               theme::Font(11), theme::kText1);
    else if (const QImage* picture = thumbs_->Get(photos_[i]))
      DrawSlit(p, box, *picture);
  }
}

CarrySlip::CarrySlip(DeskLink* link, Hand* hand, std::vector<PhotoId> selection, Thumbs* thumbs,
                     QWidget* parent)
    : Slip(tr("Carry the touch of this frame"), parent),
      link_(link),
      hand_(hand),
      selection_(std::move(selection)) {
  using To = job::Carry::To;
  auto* row = new QHBoxLayout;
  const auto way = [&](const QString& word, To to, bool usable) {
    auto* button = new Button(word, QString(), Button::Look::kOutline, this);
    button->setCheckable(true);
    button->setEnabled(usable);
    connect(button, &Button::clicked, this, [this, to] {
      to_ = to;
      Refresh();
    });
    row->addWidget(button);
    ways_.emplace_back(to, button);
  };
  way(tr("to look-alikes"), To::kLookAlikes, true);
  way(tr("to its light"), To::kLight, true);
  way(selection_.empty() ? tr("to a selection") : tr("to the %1 chosen").arg(selection_.size()),
      To::kSelection, !selection_.empty());
  row->addStretch(1);
  body()->addLayout(row);
  if (!selection_.empty()) to_ = To::kSelection;
  AddWords(tr("Only these handles:"), theme::kText2);
  auto* columns = new QHBoxLayout;
  QVBoxLayout* column = nullptr;
  int count = 0;
  const record::Handles touch = link_->desk()->TouchOf(hand_->frame());
  for (const record::HandleFacts& facts : record::AllHandles()) {
    const double value = record::ValueOf(touch, facts.handle);
    if (value == 0) continue;
    if (count++ % 6 == 0) {
      column = new QVBoxLayout;
      column->setAlignment(Qt::AlignTop);
      columns->addLayout(column);
    }
    auto* box = new Check(QStringLiteral("%1  %2 %3")
                              .arg(QString::fromUtf8(facts.name), HandleText(value, facts.digits),
                                   QString::fromUtf8(facts.unit)),
                          this);
    box->setChecked(true);
    connect(box, &QCheckBox::toggled, this, &CarrySlip::Refresh);
    column->addWidget(box);
    handles_.emplace_back(facts.handle, box);
  }
  body()->addLayout(columns);
  if (handles_.empty())
    AddWords(tr("This frame has no touch of its own: carrying takes the touch away from the others."),
             theme::kText1);
  count_ = AddWords(QString(), theme::kText1);
  grid_ = new ThumbGrid(thumbs, this);
  body()->addWidget(grid_);
  start_ = AddButton(tr("Carry"), Button::Look::kStrong);
  connect(start_, &Button::clicked, this, [this] {
    const job::Carry carry = Wanted();
    const int frames = static_cast<int>(link_->desk()->Reach(carry).size());
    link_->desk()->DoCarry(carry);
    emit carried(frames);
  });
  Refresh();
}

Button* CarrySlip::to(job::Carry::To to) const {
  for (const auto& [way, button] : ways_)
    if (way == to) return button;
  return nullptr;
}

job::Carry CarrySlip::Wanted() const {
  job::Carry carry;
  carry.from = hand_->frame();
  carry.to = to_;
  carry.selection = selection_;
  bool all = true;
  for (const auto& [handle, box] : handles_) {
    if (box->isChecked())
      carry.handles.push_back(handle);
    else
      all = false;
  }
  if (all) carry.handles.clear();
  return carry;
}

void CarrySlip::Refresh() {
  for (const auto& [way, button] : ways_) button->setChecked(way == to_);
  const bool none = !handles_.empty() && std::none_of(handles_.begin(), handles_.end(),
                                                      [](const auto& h) { return h.second->isChecked(); });
  const std::vector<PhotoId> reach = none ? std::vector<PhotoId>() : link_->desk()->Reach(Wanted());
  count_->SetText(reach.empty() ? tr("No other frame would change.")
                                : tr("These %1 frames would change:").arg(reach.size()));
  grid_->Show(reach);
  start_->setText(reach.size() == 1 ? tr("Carry to 1 frame") : tr("Carry to %1 frames").arg(reach.size()));
  start_->updateGeometry();
  start_->setEnabled(!reach.empty());
}

}  // namespace samelight::window
