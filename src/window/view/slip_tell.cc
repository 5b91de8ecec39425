// Slips that tell: settings, problems, keys.
#include <QtCore/QSettings>
#include <QtCore/QSignalBlocker>
#include <QtGui/QKeyEvent>
#include <QtGui/QPainter>

#include "base/setting.h"
#include "window/view/keys.h"
#include "window/view/paint.h"
#include "window/view/slips.h"

namespace samelight::window {

SettingsSlip::SettingsSlip(DeskLink* link, bool soft_proof, bool system_profile, QWidget* parent)
    : Slip(tr("Settings"), parent) {
  if (link->desk()) {
    AddWords(tr("Of this session. A change is one step that can be undone; what it bears on is brought up to "
                "date afterwards."),
             theme::kText2);
    for (const Setting& setting : AllSettings()) {
      const double value = session::SettingOf(link->book()->standing, setting.name);
      const QString unit =
          setting.unit == "-" ? QString() : QStringLiteral(", ") + QString::fromStdString(setting.unit);
      QLineEdit* edit = AddField(QString::fromStdString(setting.title) + unit, QString::number(value));
      edit->setMaximumWidth(120);
      Label* help =
          AddWords(QString::fromStdString(setting.help) + tr(" (%1 to %2, usually %3)")
                                                              .arg(QString::number(setting.least, 'g', 10),
                                                                   QString::number(setting.most, 'g', 10),
                                                                   QString::number(setting.usual, 'g', 10)),
                   theme::kText3);
      const std::string name = setting.name;
      connect(edit, &QLineEdit::editingFinished, this, [link, edit, help, name] {
        bool number = false;
        const double wanted = edit->text().replace(QLatin1Char(','), QLatin1Char('.')).toDouble(&number);
        const double standing = session::SettingOf(link->book()->standing, name);
        if (number && wanted == standing) return;
        const Status done = number
                                ? link->desk()->SetSetting(name, wanted)
                                : Status(Error{ErrorCode::kInvalidArgument, "this is not a number", "", ""});
        if (done.ok()) return;
        help->SetText(QString::fromStdString(done.error().what));
        edit->setText(QString::number(standing));
      });
    }
  }
  AddWords(tr("Of the window."), theme::kText2);
  proof_ = new Check(tr("soft proof: show what is left of colours where they go"), this);
  proof_->setChecked(soft_proof);
  body()->addWidget(proof_);
  QLineEdit* target = AddField(tr("Profile of the print or space to proof for"),
                               QSettings().value(QStringLiteral("proof")).toString());
  target->setPlaceholderText(tr("sRGB, as delivered"));
  AddWords(
      tr("An ICC file, as a printer or a gallery gives it. Hatching at the ends of range (H) then marks what "
         "it cannot hold."),
      theme::kText3);
  const auto want = [this, target] { emit softProofWanted(proof_->isChecked(), target->text().trimmed()); };
  connect(proof_, &QCheckBox::toggled, this, want);
  connect(target, &QLineEdit::editingFinished, this, want);
  auto* motion = new Check(tr("without motion"), this);
  motion->setChecked(!theme::Motion());
  connect(motion, &QCheckBox::toggled, this, [this](bool still) { emit motionWanted(!still); });
  body()->addWidget(motion);
  QLineEdit* monitor =
      AddField(tr("Profile of the monitor"), QSettings().value(QStringLiteral("monitor")).toString());
  monitor->setPlaceholderText(system_profile ? tr("as the system tells it") : tr("sRGB"));
  AddWords(tr("An ICC file. Empty: what the system tells of the monitor, here %1.")
               .arg(system_profile ? tr("a profile of its own") : tr("nothing, so it is taken for sRGB")),
           theme::kText3);
  connect(monitor, &QLineEdit::editingFinished, this,
          [this, monitor] { emit monitorWanted(monitor->text().trimmed()); });
}

void SettingsSlip::ShowProof(bool on) {
  const QSignalBlocker still(proof_);
  proof_->setChecked(on);
}

ProblemsSlip::ProblemsSlip(const Problems& problems, QWidget* parent) : Slip(tr("Problems"), parent) {
  if (problems.rowCount() == 0) AddWords(tr("Every file could be read."), theme::kText2);
  for (int row = 0; row < problems.rowCount(); ++row) {
    const QModelIndex at = problems.index(row);
    const QString file = at.data(Problems::kFile).toString();
    body()->addWidget(new Label(file.isEmpty() ? tr("the session") : file, 13, true, theme::kText1, this));
    AddWords(at.data(Problems::kWhat).toString() + QStringLiteral(": ") + at.data(Problems::kWhy).toString(),
             theme::kText2);
    const QString todo = at.data(Problems::kTodo).toString();
    if (!todo.isEmpty()) AddWords(tr("What to do: %1").arg(todo), theme::kText1);
  }
}

NotesSlip::NotesSlip(DeskLink* link, QWidget* parent) : Slip(tr("Notes and figures"), parent) {
  const std::shared_ptr<const job::Book> book = link->book();
  const auto one = [](double v) { return QString::number(v, 'f', 1); };
  for (const std::string& note : book->notes) AddWords(QString::fromStdString(note), theme::kText1);
  if (!book->seen.empty())
    AddWords(tr("Seen on the way; nothing is done about these. A click takes the picture in hand."),
             theme::kText2);
  for (const record::Note& note : book->seen) {
    const job::FrameRow* frame = book->Frame(note.photo);
    const job::ScanRow* scan = book->Scan(note.photo);
    if (!frame && !scan) continue;
    auto* button = new Button(QString::fromStdString(frame ? frame->name : scan->name), QString(),
                              Button::Look::kOutline, this);
    button->setAccessibleDescription(QString::fromStdString(note.text));
    connect(button, &Button::clicked, this, [this, photo = note.photo] { emit photoWanted(photo); });
    body()->addWidget(button);
    AddWords(QString::fromStdString(note.text), theme::kText2);
  }
  if (!book->matched) return;
  const report::Totals& totals = book->totals;
  body()->addWidget(new Label(tr("As it was last solved"), 13, true, theme::kText1, this));
  AddWords(tr("%1 scans: %2 of the moment of a frame, %3 of its light, %4 without a frame.")
               .arg(totals.scans)
               .arg(totals.moment)
               .arg(totals.light)
               .arg(totals.none),
           theme::kText2);
  if (!totals.regions.empty())
    AddWords(tr("Left-over against the scans, CIEDE2000, median before and now:"), theme::kText2);
  for (const report::RegionTotal& region : totals.regions) {
    const QString frames = region.frames == 1 ? tr("one frame") : tr("%1 frames").arg(region.frames);
    AddWords(tr("%1: %2 → %3, in %4")
                 .arg(QString::fromUtf8(record::Name(region.region)), one(region.before), one(region.after),
                      frames),
             theme::kText1);
  }
  if (totals.film_to_film_rolls > 0)
    AddWords(tr("Film-to-film difference inside a roll, between any two of its scans: %1.")
                 .arg(one(totals.film_to_film)),
             theme::kText2);
  if (!book->skin_spread.empty())
    AddWords(tr("Skin inside a light, standard deviation of L*, a*, b*:"), theme::kText2);
  for (const report::Report::SkinSpread& spread : book->skin_spread)
    for (const record::Light& light : book->lights)
      if (light.id == spread.light)
        AddWords(tr("%1: %2, %3, %4 over %5 frames")
                     .arg(QString::fromStdString(light.name), one(spread.sigma[0]), one(spread.sigma[1]),
                          one(spread.sigma[2]))
                     .arg(spread.frames),
                 theme::kText1);
}

namespace {

class KeyRow : public QWidget {
 public:
  KeyRow(const QString& key, const QString& what, QWidget* parent) : QWidget(parent), key_(key), what_(what) {
    setFixedHeight(22);
    setAccessibleName(key + QStringLiteral(": ") + what);
  }

 protected:
  void paintEvent(QPaintEvent*) override {
    QPainter p(this);
    DrawText(p, {0, 0, 132, 22}, Qt::AlignLeft, key_, theme::Font(12, theme::Weight::kMedium), theme::kText1);
    DrawText(p, {140, 0, width() - 140.0, 22}, Qt::AlignLeft, what_, theme::Font(12), theme::kText2);
  }

 private:
  QString key_, what_;
};

}  // namespace

KeysSlip::KeysSlip(QWidget* parent) : Slip(tr("Keys"), parent) {
  for (const KeyGroup& group : AllKeys()) {
    body()->addWidget(new Label(group.where, 13, true, theme::kText1, this));
    for (const auto& [key, what] : group.keys) body()->addWidget(new KeyRow(key, what, this));
  }
}

}  // namespace samelight::window
