#include "window/model/follow_model.h"

#include <algorithm>

namespace samelight::window {
namespace {

// Share of a region, 0..1: its own, or that of the whole.
double ShareOf(const record::Correction& c, record::RegionKind region) {
  if (region == record::RegionKind::kSkin) return c.follow_skin;
  const double own = region == record::RegionKind::kFoliage ? c.follow_foliage : c.follow_sky;
  return own < 0 ? c.follow : own;
}

}  // namespace

FollowModel::FollowModel(DeskLink* link, Instruments* instruments, QObject* parent)
    : QAbstractListModel(parent), link_(link), instruments_(instruments) {
  connect(instruments, &Instruments::changed, this,
          [this] { emit dataChanged(index(0), index(rowCount() - 1)); });
}

int FollowModel::rowCount(const QModelIndex& parent) const {
  return parent.isValid() ? 0 : 1 + static_cast<int>(job::FollowRegions().size());
}

QVariant FollowModel::data(const QModelIndex& index, int role) const {
  if (!index.isValid() || index.row() >= rowCount()) return {};
  const std::optional<record::Correction>& correction = instruments_->correction();
  const bool whole = index.row() == 0;
  const auto region = [&] { return job::FollowRegions()[static_cast<std::size_t>(index.row() - 1)]; };
  switch (role) {
    case Qt::DisplayRole:
      return whole ? tr("follow") : QString::fromUtf8(record::Name(region()));
    case kPercent:
      if (!correction) return {};
      return 100 * (whole ? correction->follow : ShareOf(*correction, region()));
    case kOwn:
      return !whole && correction && ShareOf(*correction, region()) != correction->follow;
    default:
      return {};
  }
}

QHash<int, QByteArray> FollowModel::roleNames() const {
  return {{Qt::DisplayRole, "display"}, {kPercent, "percent"}, {kOwn, "own"}};
}

void FollowModel::Try(int row, double percent) {
  if (row < 0 || row >= rowCount()) return;
  instruments_->TryFollow(
      row == 0 ? std::nullopt : std::optional(job::FollowRegions()[static_cast<std::size_t>(row - 1)]),
      percent);
}

void FollowModel::Keep(int row, double percent, Level level) {
  job::Desk* desk = link_->desk();
  if (desk == nullptr || row < 0 || row >= rowCount()) return;
  std::vector<PhotoId> frames;
  if (level == kFrame) frames = {instruments_->frame()};
  if (level == kLight) {
    const auto book = desk->book();
    const job::FrameRow* own = book->Frame(instruments_->frame());
    if (own == nullptr) return;
    frames = own->light < 0 ? std::vector<PhotoId>{own->photo.id}
                            : book->lights[static_cast<std::size_t>(own->light)].frames;
  }
  desk->SetFollow(
      std::clamp(percent, 0.0, 100.0), frames,
      row == 0 ? std::nullopt : std::optional(job::FollowRegions()[static_cast<std::size_t>(row - 1)]));
  instruments_->GiveUp();  // after it was said, so that what stood before is not shown in between
}

}  // namespace samelight::window
