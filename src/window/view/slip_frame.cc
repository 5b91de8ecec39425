// The slip that says how frames are framed.
#include <cmath>

#include "record/order.h"
#include "window/view/slips.h"
#include "window/view/theme.h"

namespace samelight::window {

FrameSlip::FrameSlip(DeskLink* link, std::vector<PhotoId> frames, QWidget* parent)
    : Slip(frames.size() == 1 ? tr("Frame one picture") : tr("Frame %1 pictures").arg(frames.size()), parent),
      link_(link),
      frames_(std::move(frames)) {
  AddWords(tr("How it is delivered; the file stays as it is, and no correction moves. The easel marks what "
              "is kept."),
           theme::kText2);
  auto* turns = new QHBoxLayout;
  const auto turn = [&](const QString& word, int quarters) {
    auto* button = new Button(word, QString(), Button::Look::kOutline, this);
    connect(button, &Button::clicked, this, [this, quarters] {
      record::Framing framing = link_->desk()->FramingOf(frames_.front());
      framing.quarter_turns = (framing.quarter_turns + quarters) & 3;
      Say(framing);
    });
    turns->addWidget(button);
  };
  turn(tr("A quarter to the left"), 3);
  turn(tr("A quarter to the right"), 1);
  turns->addStretch(1);
  body()->addLayout(turns);
  const auto field = [&](const QString& name) {
    QLineEdit* edit = AddField(name, QString());
    edit->setMaximumWidth(120);
    connect(edit, &QLineEdit::editingFinished, this, &FrameSlip::Take);
    return edit;
  };
  straighten_ = field(tr("Straighten, degrees clockwise (−45 to 45)"));
  left_ = field(tr("Left border, % of the turned picture"));
  top_ = field(tr("Top border, %"));
  right_ = field(tr("Right border, %"));
  bottom_ = field(tr("Bottom border, %"));
  wrong_ = AddWords(QString(), theme::kText1);
  auto* plain = AddButton(tr("As taken"), Button::Look::kOutline);
  connect(plain, &Button::clicked, this, [this] { Say(std::nullopt); });
  Refresh();
}

void FrameSlip::Refresh() {
  const record::Framing framing = link_->desk()->FramingOf(frames_.front());
  const record::Crop& cut = framing.crop;
  straighten_->setText(QString::number(cut.angle_deg));
  left_->setText(QString::number(100 * cut.left));
  top_->setText(QString::number(100 * cut.top));
  right_->setText(QString::number(100 * cut.right));
  bottom_->setText(QString::number(100 * cut.bottom));
}

void FrameSlip::Take() {
  const record::Framing before = link_->desk()->FramingOf(frames_.front());
  record::Framing framing = before;
  bool numbers = true;
  const auto read = [&](QLineEdit* edit, double factor, double& into) {
    bool ok = false;
    const double value = edit->text().replace(QLatin1Char(','), QLatin1Char('.')).toDouble(&ok);
    numbers = numbers && ok;
    if (ok && std::abs(value * factor - into) > 1e-9) into = value * factor;
  };
  read(straighten_, 1, framing.crop.angle_deg);
  read(left_, 0.01, framing.crop.left);
  read(top_, 0.01, framing.crop.top);
  read(right_, 0.01, framing.crop.right);
  read(bottom_, 0.01, framing.crop.bottom);
  if (!numbers) return wrong_->SetText(tr("This is not a number."));
  const record::Crop &a = before.crop, &b = framing.crop;
  if (a.angle_deg == b.angle_deg && a.left == b.left && a.top == b.top && a.right == b.right &&
      a.bottom == b.bottom)
    return;
  Say(framing);
}

void FrameSlip::Say(const std::optional<record::Framing>& framing) {
  const Status said = link_->desk()->SetFraming(frames_, framing);
  wrong_->SetText(said.ok() ? QString()
                            : QString::fromStdString(said.error().what + ": " + said.error().todo));
  if (said.ok()) Refresh();
}

}  // namespace samelight::window
