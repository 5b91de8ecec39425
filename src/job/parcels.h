// What an order comes to: which file is made of which picture.
#pragma once

#include <string>
#include <unordered_map>
#include <vector>

#include "job/job.h"
#include "record/order.h"
#include "session/session.h"

namespace samelight::job {

// One file to be delivered.
struct Parcel {
  const record::Photo* photo = nullptr;
  const record::FrameSolution* solution = nullptr;  // none for scans
  record::Framing framing;
  RollId film;          // RollsOfFrames(); invalid: none
  bool copied = false;  // the original's bytes
  fs::path file;
  session::Delivery delivery;
};

// What a session knows that deliveries stand on; parcels point into it.
struct Goods {
  std::vector<record::Photo> photos;
  session::MatchResult match;
  session::PairResult pairs;  // without correspondences
  std::vector<record::Roll> rolls;
  session::Standing standing;
  std::vector<session::Delivery> earlier;
};
Result<Goods> GoodsOf(const session::Session& session);

// The colour roll that most scans of a frame's light are on, the first of those that have as many; frames of
// lights without a scan are not in it.
std::unordered_map<PhotoId, RollId> RollsOfFrames(const Goods& goods);

// How a picture is framed: by the person, else by its own metadata, else whole.
record::Framing FramingOf(const record::Photo& photo, const session::Standing& standing);

// The parcels of `order` below `folder` (canonical), in running order; frames without a solution are left out
// (they have a problem of their own), so are pictures below the order's rating. `made_from`: what the
// pictures of all parcels share (scans that grain was measured on ...), as part of every digest.
std::vector<Parcel> Parcels(const session::Session& session, const Goods& goods, const record::Order& order,
                            const fs::path& folder, const std::string& made_from);

// Pixels that `order` asks for on the longer side of a picture of this size; 0: as it is.
int LongSide(const record::Order& order, int width_px, int height_px);

}  // namespace samelight::job
