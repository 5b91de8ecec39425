// The slips of the window.
#pragma once

#include <functional>

#include "window/model/hand.h"
#include "window/model/looks.h"
#include "window/model/orders.h"
#include "window/model/problems.h"
#include "window/view/slip.h"
#include "window/view/thumbs.h"

namespace samelight::window {

// Which look a session begins from: what is built in, or one that is kept.
class LookPick : public Pick {
  Q_OBJECT
 public:
  LookPick(const QString& name, QWidget* parent);
  // Also before the kept ones were read. A look's name is the item's data; "none": what is built in.
  void Choose(const QString& look);
  QString Told() const;  // of the chosen one; empty: nothing is known of it
  const Looks& looks() const { return looks_; }

 signals:
  void filled();

 private:
  Looks looks_;
  QString wished_;
};

// A new session, or pictures that came late to the one that is open.
class AddSlip : public Slip {
  Q_OBJECT
 public:
  AddSlip(bool new_session, QWidget* parent);
  FolderField* film() { return film_; }
  FolderField* digital() { return digital_; }
  QLineEdit* session() { return session_; }
  LookPick* look() { return look_; }  // nullptr: of a session that is open
  Button* start() { return start_; }

 signals:
  void wanted(QStringList film, QStringList digital, QString session, QString look);

 private:
  void Refresh();
  FolderField *film_, *digital_;
  QLineEdit* session_ = nullptr;
  LookPick* look_ = nullptr;
  Button* start_;
  bool own_name_ = false;
};

// The fields of an order, made from their descriptions: those that most orders set first, the others at a
// click.
class OrderForm : public QWidget {
 public:
  OrderForm(const Orders* orders, QWidget* parent);
  void Show(int row);  // of `orders`; -1: a plain order
  // What differs from an order (-1: a plain one); and what is wrong with what was typed (empty: nothing).
  job::OrderFieldWords Against(int row) const;
  QString Wrong() const;
  QWidget* field(const QString& name) const;

 private:
  struct Line {
    Orders::Field of;
    QWidget* input;  // QLineEdit, Pick or Check
  };
  void Add(const Orders::Field& field, class QVBoxLayout* to);
  static QString TextOf(const Line& line);
  const Orders* orders_;
  std::vector<Line> lines_;
};

// What goes out, and where.
class DeliverSlip : public Slip {
  Q_OBJECT
 public:
  // `chosen`: frames that may go out alone.
  DeliverSlip(DeskLink* link, std::vector<PhotoId> chosen, QWidget* parent);
  QCheckBox* only() { return only_; }
  FolderField* out() { return out_; }
  Pick* order() { return order_; }
  QLineEdit* name() { return name_; }
  OrderForm* form() { return form_; }
  Button* keep() { return keep_; }
  Button* drop() { return drop_; }
  Button* start() { return start_; }

 signals:
  void wanted(QString out, samelight::job::DeliverOptions options);
  void approved(QString order);

 private:
  void Refill(const QString& chosen);
  void ShowOrder();
  QString Name() const;  // of the order, as typed
  job::OrderFieldWords Fields() const {
    return form_->Against(Name().isEmpty() ? -1 : orders_.RowOf(Name()));
  }
  DeskLink* link_;
  Orders orders_;
  FolderField* out_;
  Pick* order_;
  Label* told_;
  OrderForm* form_;
  QLineEdit* name_;
  QCheckBox *changed_, *again_, *only_;
  std::vector<PhotoId> chosen_;
  Label* wrong_;
  Button *keep_, *drop_, *approve_, *start_;
};

// How frames are framed: turned, straightened, cut. Each change is one step of the history.
class FrameSlip : public Slip {
  Q_OBJECT
 public:
  FrameSlip(DeskLink* link, std::vector<PhotoId> frames, QWidget* parent);
  QLineEdit* straighten() { return straighten_; }
  QLineEdit* left() { return left_; }

 private:
  void Refresh();
  void Take();  // what was typed
  void Say(const std::optional<record::Framing>& framing);
  DeskLink* link_;
  std::vector<PhotoId> frames_;  // the first one's framing is shown
  QLineEdit *straighten_, *left_, *top_, *right_, *bottom_;
  Label* wrong_;
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

// The look that the session begins from, and keeping what it teaches.
class LookSlip : public Slip {
  Q_OBJECT
 public:
  LookSlip(DeskLink* link, QWidget* parent);
  LookPick* begin() { return begin_; }
  QLineEdit* name() { return name_; }
  Button* keep() { return keep_; }
  QComboBox* which() { return which_; }  // to be written out
  QLineEdit* table() { return table_; }
  Button* write() { return write_; }

 signals:
  void keepWanted(samelight::job::LookLearnRequest request);
  void exportWanted(samelight::job::LookExportRequest request);

 private:
  void Begin();
  void Refresh();
  void AddExport();
  DeskLink* link_;
  LookPick* begin_;
  Label *told_, *wrong_;
  QLineEdit* name_;
  QCheckBox* add_;
  Pick* which_;
  QLineEdit* table_;
  Button *keep_, *write_;
};

// What is known of the rolls, and how the bodies' clocks run.
class RollsSlip : public Slip {
  Q_OBJECT
 public:
  RollsSlip(DeskLink* link, int roll, QWidget* parent);  // the roll that is shown first

 private:
  void AddClocks();
  void Refill();
  void ShowRoll();
  void Say(const std::string& key, QLineEdit* edit);
  DeskLink* link_;
  Pick* pick_;
  std::vector<std::pair<std::string, QLineEdit*>> facts_;
  QCheckBox *grey_, *expired_;
  Button* join_;
  Label *seen_, *wrong_;
};

// What was seen on the way, and how the session stands in figures.
class NotesSlip : public Slip {
  Q_OBJECT
 public:
  NotesSlip(DeskLink* link, QWidget* parent);

 signals:
  void photoWanted(samelight::PhotoId photo);
};

// Every setting of the session, from its one description; and what the window alone keeps.
class SettingsSlip : public Slip {
  Q_OBJECT
 public:
  // `system_profile`: the system tells a profile of the monitor.
  SettingsSlip(DeskLink* link, bool soft_proof, bool system_profile, QWidget* parent);
  void ShowProof(bool on);  // whether pictures are proofed, whatever was wished

 signals:
  void softProofWanted(bool on, QString icc_file);
  void monitorWanted(QString icc_file);
  void motionWanted(bool on);

 private:
  Check* proof_;
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
