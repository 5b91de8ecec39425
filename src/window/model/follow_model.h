// How far to follow the film: one value overall, and one for each region that goes its own way.
#pragma once

#include <QtCore/QAbstractListModel>

#include "window/model/instruments.h"

namespace samelight::window {

// Row 0 is the whole; then each region of job::FollowRegions().
class FollowModel final : public QAbstractListModel {
  Q_OBJECT
 public:
  enum Level { kFrame, kLight, kSession };  // who is meant by a change
  enum Role {
    kPercent = Qt::UserRole,  // double, of the frame in hand
    kOwn,                     // bool: the region does not go with the whole
  };
  explicit FollowModel(DeskLink* link, Instruments* instruments, QObject* parent = nullptr);
  int rowCount(const QModelIndex& parent = {}) const override;
  QVariant data(const QModelIndex& index, int role = Qt::DisplayRole) const override;
  QHash<int, QByteArray> roleNames() const override;

  // While dragged: shown on the easel (Instruments::correction()), not kept.
  void Try(int row, double percent);
  void Keep(int row, double percent, Level level);

 private:
  DeskLink* link_;
  Instruments* instruments_;
};

}  // namespace samelight::window
