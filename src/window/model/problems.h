// What could not be read or delivered, with what to do about it.
#pragma once

#include <QtCore/QAbstractListModel>

#include "window/model/desk_link.h"

namespace samelight::window {

class Problems final : public QAbstractListModel {
  Q_OBJECT
 public:
  enum Role { kFile = Qt::UserRole, kWhat, kWhy, kTodo };
  explicit Problems(DeskLink* link, QObject* parent = nullptr);
  int rowCount(const QModelIndex& parent = {}) const override;
  QVariant data(const QModelIndex& index, int role = Qt::DisplayRole) const override;
  QHash<int, QByteArray> roleNames() const override;

 private:
  void Rebuild();
  DeskLink* link_;
  std::vector<job::Problem> all_;  // of the session, then of the last job
  std::vector<job::Problem> of_job_;
};

}  // namespace samelight::window
