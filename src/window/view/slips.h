// The slips of the window.
#pragma once

#include <functional>

#include <QtWidgets/QCheckBox>
#include <QtWidgets/QComboBox>

#include "window/model/hand.h"
#include "window/model/problems.h"
#include "window/view/slip.h"
#include "window/view/thumbs.h"

namespace samelight::window {

// A new session, or pictures that came late to the one that is open.
class AddSlip : public Slip {
  Q_OBJECT
 public:
  AddSlip(bool new_session, QWidget* parent);
  FolderField* film() { return film_; }
  FolderField* digital() { return digital_; }
  QLineEdit* session() { return session_; }
  Button* start() { return start_; }

 signals:
  void wanted(QStringList film, QStringList digital, QString session);

 private:
  void Refresh();
  FolderField *film_, *digital_;
  QLineEdit* session_ = nullptr;
  Button* start_;
  bool own_name_ = false;
};

// What goes out, and where.
class DeliverSlip : public Slip {
  Q_OBJECT
 public:
  // `chosen`: frames that may go out alone.
  DeliverSlip(const job::Book& book, std::vector<PhotoId> chosen, QWidget* parent);
  QCheckBox* only() { return only_; }
  FolderField* out() { return out_; }
  Button* start() { return start_; }

 signals:
  void wanted(QString out, samelight::job::DeliverOptions options);

 private:
  FolderField* out_;
  QLineEdit *order_, *quality_;
  QComboBox* format_;
  QCheckBox *grain_, *again_, *only_;
  std::vector<PhotoId> chosen_;
  Label* wrong_;
  Button* start_;
};

// Where a touch goes, shown before it goes there.
class CarrySlip : public Slip {
  Q_OBJECT
 public:
  CarrySlip(DeskLink* link, Hand* hand, std::vector<PhotoId> selection, Thumbs* thumbs, QWidget* parent);
  Button* start() { return start_; }
  Button* to(job::Carry::To to) const;

 signals:
  void carried(int frames);

 private:
  void Refresh();
  job::Carry Wanted() const;
  DeskLink* link_;
  Hand* hand_;
  std::vector<PhotoId> selection_;
  job::Carry::To to_ = job::Carry::To::kLight;
  std::vector<std::pair<record::Handle, QCheckBox*>> handles_;
  std::vector<std::pair<job::Carry::To, Button*>> ways_;
  class ThumbGrid* grid_;
  Label* count_;
  Button* start_;
};

// Every setting of the session, from its one description; and what the window alone keeps.
class SettingsSlip : public Slip {
  Q_OBJECT
 public:
  SettingsSlip(DeskLink* link, bool soft_proof, QWidget* parent);

 signals:
  void softProofWanted(bool on);
  void monitorWanted(QString icc_file);
  void motionWanted(bool on);
};

// Files that were set aside, with what to do about each.
class ProblemsSlip : public Slip {
  Q_OBJECT
 public:
  ProblemsSlip(const Problems& problems, QWidget* parent);
};

class KeysSlip : public Slip {
  Q_OBJECT
 public:
  explicit KeysSlip(QWidget* parent);
};

// Small pictures in a grid, to be seen only.
class ThumbGrid : public QWidget {
 public:
  ThumbGrid(Thumbs* thumbs, QWidget* parent);
  void Show(std::vector<PhotoId> photos);
  QSize sizeHint() const override;
  bool hasHeightForWidth() const override { return true; }
  int heightForWidth(int width) const override;

 protected:
  void paintEvent(QPaintEvent*) override;

 private:
  Thumbs* thumbs_;
  std::vector<PhotoId> photos_;
};

}  // namespace samelight::window
