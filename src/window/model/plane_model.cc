#include "window/model/plane_model.h"

#include <QtCore/QPointF>

namespace samelight::window {
namespace {

QPointF DotOf(const Vec3& lab) { return {lab[1], lab[2]}; }

}  // namespace

PlaneModel::PlaneModel(Instruments* instruments, QObject* parent)
    : InstrumentRows(instruments, RegionCount, parent) {}

QVariant PlaneModel::data(const QModelIndex& index, int role) const {
  if (!Holds(index)) return {};
  const job::RegionRow& row = instruments_->regions()[static_cast<std::size_t>(index.row())];
  switch (role) {
    case kName:
      return QString::fromStdString(row.name);
    case kScanDot:
      return row.has_scan ? QVariant(DotOf(row.lab_scan)) : QVariant();
    case kFrameDot:
      return DotOf(row.lab_frame);
    case kBeforeDot:
      return DotOf(row.lab_before);
    case kLightness:
      return row.lab_frame[0];
    case kTolerance:
      return row.tolerance;
    case kOver:
      return row.has_scan && row.now > row.tolerance;
    default:
      return {};
  }
}

QHash<int, QByteArray> PlaneModel::roleNames() const {
  return {{kName, "name"},
          {kScanDot, "scanDot"},
          {kFrameDot, "frameDot"},
          {kBeforeDot, "beforeDot"},
          {kLightness, "lightness"},
          {kTolerance, "tolerance"},
          {kOver, "over"}};
}

}  // namespace samelight::window
