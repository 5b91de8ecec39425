// The hue-chroma plane: one row per region, with its dots.
#pragma once

#include <QtCore/QAbstractListModel>

#include "window/model/instruments.h"

namespace samelight::window {

class PlaneModel final : public QAbstractListModel {
  Q_OBJECT
 public:
  enum Role {
    kName = Qt::DisplayRole,
    kScanDot = Qt::UserRole,  // QPointF (a*, b*); invalid without a scan
    kFrameDot,                // QPointF
    kBeforeDot,               // QPointF
    kLightness,               // double, L* of the frame
    kTolerance,               // double, radius of the ring in the plane
    kOver,                    // bool: the left-over is above the mark
  };
  explicit PlaneModel(Instruments* instruments, QObject* parent = nullptr);
  int rowCount(const QModelIndex& parent = {}) const override;
  QVariant data(const QModelIndex& index, int role = Qt::DisplayRole) const override;
  QHash<int, QByteArray> roleNames() const override;

 private:
  void Follow();
  Instruments* instruments_;
  int rows_ = 0;
};

}  // namespace samelight::window
