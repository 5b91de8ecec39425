// The slip that takes pictures in. (The others are in slip_deliver.cc, slip_carry.cc and slip_tell.cc.)
#include <QtCore/QDir>
#include <QtCore/QFileInfo>

#include "window/view/slips.h"
#include "window/view/theme.h"

namespace samelight::window {

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
  if (new_session) {
    session_ = AddField(tr("Keep the session in"), QString());
    body()->addWidget(new Label(tr("Begin from the look"), 12, true, theme::kText1, this));
    look_ = new LookPick(tr("Look to begin from"), this);
    body()->addWidget(look_);
  }
  start_ = AddButton(new_session ? tr("Pair and match") : tr("Add, pair and match"), Button::Look::kStrong);
  connect(film_, &FolderField::changed, this, &AddSlip::Refresh);
  connect(digital_, &FolderField::changed, this, &AddSlip::Refresh);
  if (session_)
    connect(session_, &QLineEdit::textEdited, this, [this] {
      own_name_ = true;
      Refresh();
    });
  connect(start_, &Button::clicked, this, [this] {
    emit wanted(film_->folders(), digital_->folders(), session_ ? session_->text().trimmed() : QString(),
                look_ ? look_->currentData().toString() : QString());
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

}  // namespace samelight::window
