// The looks that the user keeps: what earlier sessions taught.
#pragma once

#include <filesystem>
#include <memory>
#include <thread>
#include <vector>

#include <QtCore/QAbstractListModel>
#include <QtCore/QStringList>

#include "job/job.h"

namespace samelight::window {

// One row per look, by name. Empty until the folder was read, in the background; then reset.
class Looks final : public QAbstractListModel {
  Q_OBJECT
 public:
  enum Role { kName = Qt::UserRole, kTold };  // QString; stock, lab, and what it rests on, in words
  explicit Looks(QObject* parent = nullptr);
  ~Looks() override;
  int rowCount(const QModelIndex& parent = {}) const override;
  QVariant data(const QModelIndex& index, int role = Qt::DisplayRole) const override;
  QHash<int, QByteArray> roleNames() const override;
  int RowOf(const QString& name) const;  // -1: not kept
  // Files that cannot be used, or why the folder cannot be read; a sentence each.
  const QStringList& problems() const { return problems_; }
  bool read() const { return read_; }

 private:
  Q_INVOKABLE void Take();
  std::vector<record::LearnedLook> looks_;
  QStringList problems_;
  bool read_ = false;
  // What was read; under a lock of our own, so that a thread sanitizer sees how it is handed over.
  struct Answer;
  std::unique_ptr<Answer> answer_;
  std::thread reader_;
};

}  // namespace samelight::window
