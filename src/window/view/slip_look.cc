// The slips about the film: which look a session begins from and what it teaches; its rolls and the clocks.
#include <algorithm>

#include <QtWidgets/QFileDialog>

#include "window/view/slips.h"
#include "window/view/theme.h"

namespace samelight::window {

LookPick::LookPick(const QString& name, QWidget* parent) : Pick(parent) {
  setAccessibleName(name);
  addItem(tr("what is built in"), QStringLiteral("none"));
  connect(&looks_, &QAbstractItemModel::modelReset, this, [this] {
    for (int row = 0; row < looks_.rowCount(); ++row) {
      const QString look = looks_.index(row).data().toString();
      if (findData(look) < 0) addItem(look, look);
      setItemData(findData(look), looks_.index(row).data(Looks::kTold), Qt::ToolTipRole);
    }
    if (!wished_.isEmpty()) Choose(wished_);
    emit filled();
  });
}

void LookPick::Choose(const QString& look) {
  wished_ = look;
  if (const int at = findData(look); at >= 0) setCurrentIndex(at);
}

QString LookPick::Told() const {
  const int row = looks_.RowOf(currentData().toString());
  return row < 0 ? QString() : looks_.index(row).data(Looks::kTold).toString();
}

LookSlip::LookSlip(DeskLink* link, QWidget* parent) : Slip(tr("The look of the film"), parent), link_(link) {
  const std::shared_ptr<const job::Book> book = link_->book();
  AddWords(tr("Earlier sessions teach what a film does. This one is solved from there; its own scans still "
              "outrank it. A change is one step that can be undone; press U to solve again."),
           theme::kText2);
  body()->addWidget(new Label(tr("Begin from"), 12, true, theme::kText1, this));
  begin_ = new LookPick(tr("Look to begin from"), this);
  body()->addWidget(begin_);
  told_ = AddWords(QString(), theme::kText3);
  const QString standing = QString::fromStdString(book->standing.look.name);
  if (!standing.isEmpty() && begin_->findData(standing) < 0) begin_->addItem(standing, standing);
  if (!standing.isEmpty()) begin_->Choose(standing);
  connect(begin_, &QComboBox::activated, this, &LookSlip::Begin);
  connect(begin_, &LookPick::filled, this, &LookSlip::Refresh);

  body()->addSpacing(8);
  body()->addWidget(new Label(tr("Keep what this session teaches"), 12, true, theme::kText1, this));
  AddWords(
      tr("Each stock and lab becomes a look of its own, for sessions to come. Name stocks and labs under "
         "Rolls and clocks. A session without film cannot teach."),
      theme::kText3);
  name_ = AddField(tr("Name of the look"), QString());
  name_->setPlaceholderText(tr("stock and lab"));
  add_ = new Check(tr("together with what a look of that name has learned"), this);
  add_->setChecked(true);
  body()->addWidget(add_);
  AddExport();
  wrong_ = AddWords(QString(), theme::kText1);
  keep_ = AddButton(tr("Keep the look"), Button::Look::kStrong);
  connect(keep_, &Button::clicked, this, [this] {
    job::LookLearnRequest request;
    request.name = name_->text().trimmed().toStdString();
    request.add = add_->isChecked();
    emit keepWanted(request);
  });
  connect(link_, &DeskLink::bookChanged, this, &LookSlip::Refresh);
  Refresh();
}

// A kept look as a file that other programs read.
void LookSlip::AddExport() {
  body()->addSpacing(8);
  body()->addWidget(new Label(tr("Write a look out as a table"), 12, true, theme::kText1, this));
  AddWords(
      tr("For other programs: .clf, Common LUT Format, from scene-linear BT.2020 to sRGB; .icc, a device "
         "link from linear BT.2020 of 0 to 1 to sRGB."),
      theme::kText3);
  which_ = new Pick(this);
  which_->setAccessibleName(tr("Look to write out"));
  body()->addWidget(which_);
  auto* row = new QHBoxLayout;
  table_ = new QLineEdit(this);
  table_->setAccessibleName(tr("File of the table"));
  table_->setPlaceholderText(tr("file, ending in .clf or .icc"));
  row->addWidget(table_, 1);
  auto* choose = new Button(tr("Choose"), QString(), Button::Look::kOutline, this);
  choose->setAccessibleName(tr("Choose the file of the table"));
  row->addWidget(choose);
  write_ = new Button(tr("Write"), QString(), Button::Look::kOutline, this);
  write_->setAccessibleName(tr("Write the look out"));
  row->addWidget(write_);
  body()->addLayout(row);
  connect(choose, &Button::clicked, this, [this] {
    const QString file = QFileDialog::getSaveFileName(window(), tr("Write a look out as a table"),
                                                      table_->text(), tr("Tables (*.clf *.icc)"));
    if (!file.isEmpty()) table_->setText(file);
  });
  connect(write_, &Button::clicked, this, [this] {
    const QString file = table_->text().trimmed();
    if (file.isEmpty()) return wrong_->SetText(tr("Name the file that the table goes to."));
    job::LookExportRequest request;
    request.look.name = which_->currentText().toStdString();
    request.file = file.toStdString();
    emit exportWanted(request);
  });
}

void LookSlip::Begin() {
  const Status taken = link_->desk()->TakeLook({begin_->currentData().toString().toStdString(), {}});
  wrong_->SetText(taken.ok() ? QString() : QString::fromStdString(taken.error().Text()));
  Refresh();
}

void LookSlip::Refresh() {
  const std::shared_ptr<const job::Book> book = link_->book();
  const QString problems = begin_->looks().problems().join(QStringLiteral(" "));
  told_->SetText(!begin_->Told().isEmpty()    ? begin_->Told()
                 : begin_->currentIndex() > 0 ? tr("as it was when this session took it up")
                 : begin_->looks().rowCount() == 0 && begin_->looks().read() && problems.isEmpty()
                     ? tr("No look is kept yet.")
                     : problems);
  which_->clear();
  for (int look = 0; look < begin_->looks().rowCount(); ++look)
    which_->addItem(begin_->looks().index(look).data().toString());
  which_->setPlaceholderText(tr("no look is kept yet"));
  which_->setCurrentIndex(which_->count() > 0 ? 0 : -1);  // beside words for nothing, the first is not chosen
  for (QWidget* part :
       {static_cast<QWidget*>(which_), static_cast<QWidget*>(table_), static_cast<QWidget*>(write_)})
    part->setEnabled(which_->count() > 0);
  const bool can = book->matched && !book->stale && !book->scans.empty();
  keep_->setEnabled(can);
  keep_->setToolTip(can                   ? QString()
                    : book->scans.empty() ? tr("There is no film in this session.")
                                          : tr("Bring the session up to date first (U)."));
}

RollsSlip::RollsSlip(DeskLink* link, int roll, QWidget* parent)
    : Slip(tr("Rolls and clocks"), parent), link_(link) {
  AddWords(tr("What is said of a roll outranks what its scans show. Each change is one step that can be "
              "undone; press U to pair and solve again."),
           theme::kText2);
  pick_ = new Pick(this);
  pick_->setAccessibleName(tr("Roll"));
  body()->addWidget(pick_);
  connect(pick_, &QComboBox::activated, this, &RollsSlip::ShowRoll);
  const std::pair<const char*, QString> facts[] = {{"name", tr("Name")},
                                                   {"stock", tr("Film stock")},
                                                   {"lab", tr("Lab")},
                                                   {"format", tr("Format, as 35 mm")},
                                                   {"rating", tr("Exposed at, ISO")},
                                                   {"push", tr("Pushed (−: pulled), EV")},
                                                   {"scan-day", tr("Scanned on, as 2026-05-30")}};
  for (const auto& [key, label] : facts) {
    auto* row = new QHBoxLayout;
    auto* words = new Label(label, 13, false, theme::kText1, this);
    words->setFixedWidth(180);
    row->addWidget(words, 0, Qt::AlignVCenter);
    auto* edit = new QLineEdit(this);
    edit->setAccessibleName(label);
    row->addWidget(edit, 1);
    body()->addLayout(row);
    connect(edit, &QLineEdit::editingFinished, this,
            [this, key = std::string(key), edit] { Say(key, edit); });
    facts_.emplace_back(key, edit);
  }
  grey_ = new Check(tr("black and white: paired, but no part of the look"), this);
  connect(grey_, &QCheckBox::clicked, this, [this](bool on) {
    static_cast<void>(link_->desk()->SetRoll(pick_->currentIndex(), "black-and-white", on ? "yes" : "no"));
  });
  body()->addWidget(grey_);
  expired_ = new Check(tr("expired: paired, but no part of the look"), this);
  connect(expired_, &QCheckBox::clicked, this, [this](bool on) {
    static_cast<void>(link_->desk()->SetRoll(pick_->currentIndex(), "expired", on ? "yes" : "no"));
  });
  body()->addWidget(expired_);
  auto* row = new QHBoxLayout;
  join_ = new Button(tr("One roll with the next"), QString(), Button::Look::kOutline, this);
  connect(join_, &Button::clicked, this, [this] {
    link_->desk()->JoinRolls(pick_->currentIndex(), pick_->currentIndex() + 1);
    join_->setEnabled(false);
    wrong_->SetText(tr("They are one as soon as the session is up to date."));
  });
  row->addWidget(join_);
  row->addStretch(1);
  body()->addLayout(row);
  seen_ = AddWords(QString(), theme::kText2);
  wrong_ = AddWords(QString(), theme::kText1);
  AddClocks();
  connect(link_, &DeskLink::bookChanged, this, &RollsSlip::Refill);
  Refill();
  if (roll >= 0 && roll < pick_->count()) pick_->setCurrentIndex(roll);
  ShowRoll();
}

// The clocks of the bodies against the first one's.
void RollsSlip::AddClocks() {
  const std::shared_ptr<const job::Book> book = link_->book();
  if (book->clocks.empty()) return;
  body()->addSpacing(8);
  body()->addWidget(new Label(tr("Clocks, seconds added"), 12, true, theme::kText1, this));
  for (const session::Clock& clock : book->clocks) {
    const auto said = book->standing.clock_offset_s.find(clock.body);
    const bool by_person = said != book->standing.clock_offset_s.end();
    auto* row = new QHBoxLayout;
    auto* words = new Label(QString::fromStdString(clock.body), 13, false, theme::kText1, this);
    words->setFixedWidth(180);
    row->addWidget(words, 0, Qt::AlignVCenter);
    auto* edit = new QLineEdit(QString::number(by_person ? said->second : clock.offset_s, 'f', 1), this);
    edit->setAccessibleName(tr("Seconds added to the clock of %1").arg(words->text()));
    edit->setMaximumWidth(120);
    row->addWidget(edit);
    row->addWidget(new Label(by_person ? tr("your word")
                                       : tr("estimated, confidence %1").arg(clock.confidence, 0, 'f', 2),
                             12, false, theme::kText3, this),
                   1);
    body()->addLayout(row);
    connect(edit, &QLineEdit::editingFinished, this, [this, edit, body = clock.body, shown = edit->text()] {
      if (edit->text() == shown) return;
      bool number = false;
      const double seconds = edit->text().replace(QLatin1Char(','), QLatin1Char('.')).toDouble(&number);
      if (number && link_->desk()->SetClock(body, seconds).ok()) return wrong_->SetText({});
      wrong_->SetText(tr("“%1” is not a number of seconds.").arg(edit->text()));
      edit->setText(shown);
    });
  }
}

void RollsSlip::Refill() {
  const int at = pick_->currentIndex();
  pick_->clear();
  for (const record::Roll& roll : link_->book()->rolls)
    pick_->addItem(tr("%1, %2 scans").arg(QString::fromStdString(roll.name)).arg(roll.scans.size()));
  pick_->setCurrentIndex(std::clamp(at, 0, std::max(0, pick_->count() - 1)));
  ShowRoll();
}

void RollsSlip::ShowRoll() {
  const std::shared_ptr<const job::Book> book = link_->book();
  const int at = pick_->currentIndex();
  const bool any = at >= 0 && at < static_cast<int>(book->rolls.size());
  for (const auto& [key, edit] : facts_) edit->setEnabled(any);
  grey_->setEnabled(any);
  expired_->setEnabled(any);
  join_->setEnabled(any && at + 1 < static_cast<int>(book->rolls.size()));
  if (!any) return seen_->SetText(tr("There is no film in this session."));
  const record::Roll& roll = book->rolls[static_cast<std::size_t>(at)];
  for (const auto& [key, edit] : facts_) {
    const QString text = key == "name"       ? QString::fromStdString(roll.name)
                         : key == "stock"    ? QString::fromStdString(roll.stock)
                         : key == "lab"      ? QString::fromStdString(roll.lab)
                         : key == "format"   ? QString::fromStdString(roll.format)
                         : key == "scan-day" ? QString::fromStdString(roll.scan_day)
                         : key == "rating"
                             ? (roll.rating_iso > 0 ? QString::number(roll.rating_iso) : QString())
                             : QString::number(roll.push_ev);
    edit->setText(text);
  }
  grey_->setChecked(roll.black_and_white);
  expired_->setChecked(roll.expired);
  QStringList seen;
  for (const job::ScanRow& scan : book->scans)
    if (scan.roll == at)
      for (const std::string& text : scan.seen) seen += QString::fromStdString(scan.name + ": " + text);
  seen_->SetText(seen.join(QLatin1Char('\n')));
}

void RollsSlip::Say(const std::string& key, QLineEdit* edit) {
  const std::shared_ptr<const job::Book> book = link_->book();
  const int at = pick_->currentIndex();
  if (at < 0 || at >= static_cast<int>(book->rolls.size()) || !edit->isModified()) return;
  edit->setModified(false);
  QString text = edit->text().trimmed();
  if (key == "push" || key == "rating") text.replace(QLatin1Char(','), QLatin1Char('.'));
  const Status said = link_->desk()->SetRoll(at, key, text.toStdString());
  wrong_->SetText(said.ok() ? QString() : QString::fromStdString(said.error().Text()));
  if (!said.ok()) ShowRoll();
}

}  // namespace samelight::window
