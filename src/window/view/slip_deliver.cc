// The slip that sends files out, and the orders that say how.
#include <algorithm>
#include <filesystem>

#include "window/view/slips.h"
#include "window/view/theme.h"

namespace samelight::window {
namespace {

// Most orders set these; the others wait behind a button.
const QStringList& Usual() {
  static const QStringList usual = {QStringLiteral("format"), QStringLiteral("quality"),
                                    QStringLiteral("long-side"), QStringLiteral("space"),
                                    QStringLiteral("grain")};
  return usual;
}

bool IsSwitch(const Orders::Field& field) { return field.kind == QLatin1String("on|off"); }

}  // namespace

OrderForm::OrderForm(const Orders* orders, QWidget* parent) : QWidget(parent), orders_(orders) {
  auto* column = new QVBoxLayout(this);
  column->setContentsMargins(0, 0, 0, 0);
  column->setSpacing(8);
  const std::vector<Orders::Field> fields = orders_->Fields(-1);
  for (const Orders::Field& field : fields)
    if (Usual().contains(field.name)) Add(field, column);
  auto* more = new Button(tr("Every field of the order"), QString(), Button::Look::kQuiet, this);
  more->SetMenuMark(true);
  column->addWidget(more);
  auto* others = new QWidget(this);
  auto* of_others = new QVBoxLayout(others);
  of_others->setContentsMargins(0, 0, 0, 0);
  of_others->setSpacing(8);
  for (const Orders::Field& field : fields)
    if (!Usual().contains(field.name)) Add(field, of_others);
  others->hide();
  column->addWidget(others);
  connect(more, &Button::clicked, others, [others] { others->setVisible(others->isHidden()); });
}

void OrderForm::Add(const Orders::Field& field, QVBoxLayout* to) {
  Line line{field, nullptr};
  const QString words = QString(field.name).replace(QLatin1Char('-'), QLatin1Char(' '));
  if (IsSwitch(field)) {
    line.input = new Check(words, this);
    to->addWidget(line.input);
  } else {
    auto* row = new QHBoxLayout;
    auto* label = new Label(words, 13, false, theme::kText1, this);
    label->setFixedWidth(110);
    row->addWidget(label, 0, Qt::AlignVCenter);
    if (field.choices.isEmpty()) {
      auto* edit = new QLineEdit(this);
      edit->setPlaceholderText(field.kind);
      line.input = edit;
    } else {
      auto* pick = new Pick(this);
      pick->addItems(field.choices);
      line.input = pick;
    }
    line.input->setAccessibleName(words);
    row->addWidget(line.input, 1);
    to->addLayout(row);
  }
  line.input->setToolTip(field.help);
  line.input->setAccessibleDescription(field.help);
  to->addWidget(new Label(field.help, 11, false, theme::kText3, this));
  lines_.push_back(std::move(line));
}

QString OrderForm::TextOf(const Line& line) {
  if (const auto* check = qobject_cast<const QCheckBox*>(line.input))
    return check->isChecked() ? QStringLiteral("on") : QStringLiteral("off");
  if (const auto* pick = qobject_cast<const QComboBox*>(line.input)) return pick->currentText();
  return static_cast<const QLineEdit*>(line.input)->text().trimmed();
}

void OrderForm::Show(int row) {
  const std::vector<Orders::Field> fields = orders_->Fields(row);
  for (Line& line : lines_) {
    for (const Orders::Field& field : fields)
      if (field.name == line.of.name) line.of = field;
    if (auto* check = qobject_cast<QCheckBox*>(line.input))
      check->setChecked(line.of.text == QLatin1String("on"));
    else if (auto* pick = qobject_cast<QComboBox*>(line.input))
      pick->setCurrentText(line.of.text);
    else
      static_cast<QLineEdit*>(line.input)->setText(line.of.text);
  }
}

// Only what differs: one field of the size takes the others back.
job::OrderFieldWords OrderForm::Against(int row) const {
  job::OrderFieldWords words;
  for (const Orders::Field& field : orders_->Fields(row))
    for (const Line& line : lines_)
      if (line.of.name == field.name && TextOf(line) != field.text)
        words.emplace_back(field.name.toStdString(), TextOf(line).toStdString());
  return words;
}

QString OrderForm::Wrong() const {
  for (const Line& line : lines_)
    if (TextOf(line) != line.of.text)
      if (const QString why = Orders::WhyNot(line.of.name, TextOf(line)); !why.isEmpty()) return why;
  return {};
}

QWidget* OrderForm::field(const QString& name) const {
  const auto it =
      std::find_if(lines_.begin(), lines_.end(), [&](const Line& line) { return line.of.name == name; });
  return it == lines_.end() ? nullptr : it->input;
}

DeliverSlip::DeliverSlip(DeskLink* link, std::vector<PhotoId> chosen, QWidget* parent)
    : Slip(tr("Deliver"), parent), link_(link), orders_(link), chosen_(std::move(chosen)) {
  const std::shared_ptr<const job::Book> book = link_->book();
  AddWords(book->to_check > 0 ? tr("%1 frames go out; %2 of them are still to check.")
                                    .arg(book->frames.size())
                                    .arg(book->to_check)
                              : tr("%1 frames go out; none of them is to check.").arg(book->frames.size()),
           theme::kText2);
  out_ = new FolderField(tr("Into the folder"), tr("Choose"), false, this);
  const std::filesystem::path usual = book->file.parent_path() / "delivered";
  out_->SetFolders({QString::fromStdString(usual.string())});
  body()->addWidget(out_);
  only_ = new Check(
      chosen_.size() == 1 ? tr("only the chosen frame") : tr("only the %1 chosen frames").arg(chosen_.size()),
      this);
  only_->setVisible(!chosen_.empty());
  body()->addWidget(only_);
  body()->addWidget(new Label(tr("Order"), 12, true, theme::kText1, this));
  order_ = new Pick(this);
  order_->setAccessibleName(tr("Order: how the files are made"));
  body()->addWidget(order_);
  told_ = AddWords(QString(), theme::kText2);
  form_ = new OrderForm(&orders_, this);
  body()->addWidget(form_);
  name_ = AddField(tr("Name of the order, to keep it"), QString());
  name_->setPlaceholderText(tr("not kept"));
  changed_ = new Check(tr("only what has changed since the order was approved"), this);
  body()->addWidget(changed_);
  again_ = new Check(tr("also what is delivered already"), this);
  body()->addWidget(again_);
  wrong_ = AddWords(QString(), theme::kText1);
  drop_ = AddButton(tr("Drop"), Button::Look::kQuiet);
  approve_ = AddButton(tr("Approve what went out"), Button::Look::kQuiet);
  keep_ = AddButton(tr("Keep the order"), Button::Look::kOutline);
  start_ = AddButton(tr("Deliver"), Button::Look::kStrong);
  connect(order_, &QComboBox::activated, this, &DeliverSlip::ShowOrder);
  connect(name_, &QLineEdit::textChanged, this, [this] { keep_->setEnabled(!Name().isEmpty()); });
  connect(drop_, &Button::clicked, this, [this] {
    link_->desk()->DropOrder(order_->currentText().toStdString());
    Refill({});
  });
  connect(approve_, &Button::clicked, this, [this] { emit approved(order_->currentText()); });
  connect(keep_, &Button::clicked, this, [this] {
    wrong_->SetText(form_->Wrong());
    if (!form_->Wrong().isEmpty()) return;
    const QString name = Name();
    const Status kept = link_->desk()->KeepOrder(name.toStdString(), Fields());
    if (!kept.ok()) return wrong_->SetText(QString::fromStdString(kept.error().Text()));
    Refill(name);
  });
  connect(start_, &Button::clicked, this, [this] {
    if (out_->folders().isEmpty()) return wrong_->SetText(tr("Name the folder that the files go to."));
    if (const QString why = form_->Wrong(); !why.isEmpty()) return wrong_->SetText(why);
    job::DeliverOptions options;
    if (!Name().isEmpty()) options.orders = {Name().toStdString()};
    options.fields = Fields();
    // A new order is kept even when it is a plain one: it was given a name.
    if (!Name().isEmpty() && orders_.RowOf(Name()) < 0)
      if (const Status kept = link_->desk()->KeepOrder(Name().toStdString(), options.fields); !kept.ok())
        return wrong_->SetText(QString::fromStdString(kept.error().Text()));
    options.changed = changed_->isEnabled() && changed_->isChecked();
    options.again = again_->isChecked();
    if (only_->isChecked()) options.only = chosen_;
    emit wanted(out_->folders().first(), options);
  });
  Refill({});
}

QString DeliverSlip::Name() const { return name_->text().trimmed(); }

// The kept orders; `chosen` is taken up.
void DeliverSlip::Refill(const QString& chosen) {
  orders_.Refresh();
  order_->clear();
  order_->addItem(tr("a new one"));
  for (int row = 0; row < orders_.rowCount(); ++row) order_->addItem(orders_.index(row).data().toString());
  order_->setCurrentIndex(orders_.RowOf(chosen) + 1);
  ShowOrder();
}

void DeliverSlip::ShowOrder() {
  const int row = order_->currentIndex() - 1;
  const bool kept = row >= 0;
  form_->Show(row);
  told_->SetText(kept ? orders_.index(row).data(Orders::kTold).toString() : tr("as usual"));
  name_->setText(kept ? order_->currentText() : QString());
  changed_->setEnabled(kept);
  drop_->setEnabled(kept);
  approve_->setEnabled(kept);
  keep_->setEnabled(kept);
}

}  // namespace samelight::window
