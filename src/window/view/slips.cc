// Slips that start work: pictures in, files out. (The others are in slip_carry.cc and slip_tell.cc.)
#include <filesystem>

#include <QtCore/QDir>
#include <QtCore/QFileInfo>
#include <QtGui/QIntValidator>

#include "base/setting.h"
#include "window/view/slips.h"
#include "window/view/theme.h"

namespace samelight::window {
namespace {

struct FormatWord {
  const char* field;  // as job/order_fields.h has it
  const char* word;
};
constexpr FormatWord kFormats[] = {{"jpeg", "JPEG, sRGB"},
                                   {"tiff8", "TIFF, 8 bit"},
                                   {"tiff16", "TIFF, 16 bit"},
                                   {"png", "PNG"},
                                   {"png16", "PNG, 16 bit"}};

}  // namespace

AddSlip::AddSlip(bool new_session, QWidget* parent)
    : Slip(new_session ? tr("A new session") : tr("A late roll, or more frames"), parent) {
  AddWords(new_session
               ? tr("Name the folders; each folder of scans is a roll. Originals are only ever read.")
               : tr("What is known already stays as it is; only what is new is read, paired and matched."),
           theme::kText2);
  film_ = new FolderField(tr("The lab's scans"), tr("Choose"), true, this);
  digital_ = new FolderField(tr("The digital frames"), tr("Choose"), true, this);
  body()->addWidget(film_);
  body()->addWidget(digital_);
  if (new_session) session_ = AddField(tr("Keep the session in"), QString());
  start_ = AddButton(new_session ? tr("Pair and match") : tr("Add, pair and match"), Button::Look::kStrong);
  connect(film_, &FolderField::changed, this, &AddSlip::Refresh);
  connect(digital_, &FolderField::changed, this, &AddSlip::Refresh);
  if (session_)
    connect(session_, &QLineEdit::textEdited, this, [this] {
      own_name_ = true;
      Refresh();
    });
  connect(start_, &Button::clicked, this, [this] {
    emit wanted(film_->folders(), digital_->folders(), session_ ? session_->text().trimmed() : QString());
  });
  Refresh();
}

void AddSlip::Refresh() {
  if (session_ && !own_name_) {
    const QStringList& from = digital_->folders().isEmpty() ? film_->folders() : digital_->folders();
    if (!from.isEmpty())
      session_->setText(
          QDir(QFileInfo(from.first()).absolutePath()).filePath(QStringLiteral("session.samelight")));
  }
  start_->setEnabled((!film_->folders().isEmpty() || !digital_->folders().isEmpty()) &&
                     (!session_ || !session_->text().isEmpty()));
}

DeliverSlip::DeliverSlip(const job::Book& book, std::vector<PhotoId> chosen, QWidget* parent)
    : Slip(tr("Deliver"), parent), chosen_(std::move(chosen)) {
  int unsettled = 0;
  for (const job::FrameRow& row : book.frames) unsettled += row.state == job::FrameState::kToCheck;
  AddWords(unsettled > 0
               ? tr("%1 frames go out; %2 of them are still to check.").arg(book.frames.size()).arg(unsettled)
               : tr("All %1 frames are settled.").arg(book.frames.size()),
           theme::kText2);
  out_ = new FolderField(tr("Into the folder"), tr("Choose"), false, this);
  const std::filesystem::path usual = book.file.parent_path() / "delivered";
  out_->SetFolders({QString::fromStdString(usual.string())});
  body()->addWidget(out_);
  order_ = AddField(tr("Order"), QStringLiteral("default"));
  body()->addWidget(new Label(tr("As"), 12, true, theme::kText1, this));
  format_ = new QComboBox(this);
  format_->setAccessibleName(tr("Kind of file"));
  for (const FormatWord& f : kFormats) format_->addItem(QString::fromUtf8(f.word));
  body()->addWidget(format_);
  const Setting* quality = FindSetting("quality");
  quality_ = AddField(tr("Quality of JPEG, %1 to %2").arg(quality->least).arg(quality->most),
                      QString::number(static_cast<int>(session::SettingOf(book.standing, "quality"))));
  quality_->setValidator(
      new QIntValidator(static_cast<int>(quality->least), static_cast<int>(quality->most), quality_));
  grain_ = new QCheckBox(tr("with the film's grain"), this);
  grain_->setChecked(true);
  again_ = new QCheckBox(tr("also what is delivered already"), this);
  only_ = new QCheckBox(
      chosen_.size() == 1 ? tr("only the chosen frame") : tr("only the %1 chosen frames").arg(chosen_.size()),
      this);
  only_->setVisible(!chosen_.empty());
  body()->addWidget(only_);
  body()->addWidget(grain_);
  body()->addWidget(again_);
  wrong_ = AddWords(QString(), theme::kText1);
  start_ = AddButton(tr("Deliver"), Button::Look::kStrong);
  connect(start_, &Button::clicked, this, [this] {
    if (out_->folders().isEmpty()) return wrong_->SetText(tr("Name the folder that the files go to."));
    if (!quality_->hasAcceptableInput()) return wrong_->SetText(tr("The quality is out of its range."));
    job::DeliverOptions options;
    // An order with a name of its own is kept by the session.
    const std::string order = order_->text().trimmed().toStdString();
    if (!order.empty() && order != "default") options.orders = {order};
    options.fields = {{"format", kFormats[format_->currentIndex()].field},
                      {"quality", quality_->text().toStdString()},
                      {"grain", grain_->isChecked() ? "on" : "off"}};
    options.again = again_->isChecked();
    if (only_->isChecked()) options.only = chosen_;
    emit wanted(out_->folders().first(), options);
  });
}

}  // namespace samelight::window
