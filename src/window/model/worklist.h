// The worklist: which frames (and loose scans) want an eye, why, and which comes next.
#pragma once

#include <optional>

#include <QtCore/QAbstractListModel>
#include <QtCore/QStringList>

#include "window/model/desk_link.h"

namespace samelight::window {

// Which frames are walked through; among the unpaired also the scans without a frame. Empty fields let
// everything pass.
struct WorklistFilter {
  enum class Which { kToCheck, kSettled, kUnpaired, kAll };
  Which which = Which::kToCheck;
  std::optional<int> light, roll;  // indices into the book
  QString source;                  // SourceName()
  QString reason;                  // a part of the reason's words
  bool operator==(const WorklistFilter&) const = default;
};

// Rows are the frames that pass, in time order; then the scans, those first that wait for an answer.
class Worklist final : public QAbstractListModel {
  Q_OBJECT
 public:
  enum Role {
    kPhoto = Qt::UserRole,
    kName,
    kReasons,
    kState
  };  // qint64, QString, QStringList, int (FrameState)
  explicit Worklist(DeskLink* link, QObject* parent = nullptr);
  int rowCount(const QModelIndex& parent = {}) const override;
  QVariant data(const QModelIndex& index, int role = Qt::DisplayRole) const override;
  QHash<int, QByteArray> roleNames() const override;

  const WorklistFilter& filter() const { return filter_; }
  void SetFilter(const WorklistFilter& filter);

  // What comes after / before `from` (which need not pass) among those that pass, round the end; invalid:
  // nothing.
  PhotoId Next(PhotoId from) const { return Walk(from, 1); }
  PhotoId Previous(PhotoId from) const { return Walk(from, -1); }

  // Why a frame or a scan wants a look: the first reason as a sentence, and what else can be said, both in
  // plain words.
  struct Words {
    QString subject;  // "Frame P00299"
    QString reason;   // "Skin is redder than in its scan by 3.3."
    QString beside;   // "Its neighbours in this light stay below 1.5."
  };
  Words WordsOf(PhotoId photo) const;
  // What can be filtered by: kinds of reasons and sources that there are.
  QStringList Reasons() const;
  QStringList Sources() const;

 signals:
  void countsChanged();

 private:
  struct Row {
    bool scan = false;
    int index = 0;  // into the book's frames or scans
  };
  bool Passes(const job::FrameRow& row, const job::Book& book) const;
  bool Passes(const job::ScanRow& row) const;
  PhotoId PhotoOf(const Row& row) const;
  PhotoId Walk(PhotoId from, int by) const;
  void Rebuild();
  DeskLink* link_;
  WorklistFilter filter_;
  std::vector<Row> rows_;
};

// The kind of a reason: its words without figures and names ("skin is redder", "no film saw this light").
QString ReasonKind(const record::Flag& reason);

}  // namespace samelight::window
