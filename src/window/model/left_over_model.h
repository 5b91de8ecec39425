// The left-over table: region, before, now, in words; what a bar is drawn from in roles.
#pragma once

#include "window/model/instrument_rows.h"

namespace samelight::window {

class LeftOverModel final : public InstrumentRows<QAbstractTableModel> {
  Q_OBJECT
 public:
  enum Column { kRegion, kBefore, kNow, kWords, kColumns };
  enum Role {
    kBeforeValue = Qt::UserRole,  // double, CIEDE2000; NaN without a scan
    kNowValue,                    // double
    kToleranceValue,              // double: the mark
    kOverMark,                    // bool
    kSwatch,                      // QVariantList of L*, a*, b* of the frame's region
  };
  explicit LeftOverModel(Instruments* instruments, QObject* parent = nullptr);
  int columnCount(const QModelIndex& parent = {}) const override;
  QVariant data(const QModelIndex& index, int role = Qt::DisplayRole) const override;
  QVariant headerData(int section, Qt::Orientation orientation, int role = Qt::DisplayRole) const override;
  QHash<int, QByteArray> roleNames() const override;
};

}  // namespace samelight::window
