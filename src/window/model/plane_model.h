// The hue-chroma plane: one row per region, with its dots.
#pragma once

#include "window/model/instrument_rows.h"

namespace samelight::window {

class PlaneModel final : public InstrumentRows<QAbstractListModel> {
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
  QVariant data(const QModelIndex& index, int role = Qt::DisplayRole) const override;
  QHash<int, QByteArray> roleNames() const override;
};

}  // namespace samelight::window
