// Orders and framings as a person sets them.
#include <algorithm>
#include <tuple>

#include <fmt/format.h>
#include <fmt/ranges.h>

#include "job/names.h"
#include "job/order_fields.h"
#include "job/parcels.h"
#include "job/said.h"
#include "job/stages.h"
#include "session/pack.h"

namespace samelight::job {
namespace {

Error NoSuchOrder(const std::string& name) {
  return {ErrorCode::kNotFound, fmt::format("the session keeps no order called '{}'", name), "",
          "`samelight order SESSION` lists them; `samelight order SESSION NAME` with options makes one"};
}

Status Fill(record::Order& order, const OrderFieldWords& fields) {
  for (const auto& [field, word] : fields)
    if (Status set = SetField(order, field, word); !set.ok()) return set;
  return {};
}

}  // namespace

Result<int> SayApproved(session::Session& session, const std::string& name) {
  Result<std::vector<session::Delivery>> deliveries = session.Deliveries();
  if (!deliveries.ok()) return deliveries.error();
  session::Approve approve{name, {}, {}};
  for (const session::Delivery& delivery : *deliveries) {
    if (!delivery.done || delivery.order != name) continue;
    approve.pictures.push_back(delivery.frame);
    approve.digests.push_back(delivery.digest);
  }
  if (approve.pictures.empty())
    return Error{ErrorCode::kNothingToDo, fmt::format("nothing was delivered of the order '{}'", name), "",
                 "deliver it first"};
  const int count = static_cast<int>(approve.pictures.size());
  Status said = Say(session, {approve}, fmt::format("order {}: {} pictures approved", name, count));
  if (!said.ok()) return said.error();
  return count;
}

Result<record::Order> OrderWith(const session::Standing& standing, const std::string& name,
                                const OrderFieldWords& fields) {
  const std::string text = fs::path(name).filename().string();
  if (name.empty() || text != name || name.front() == '.' || name.size() > 100)
    return Error{ErrorCode::kInvalidArgument, fmt::format("'{}' cannot be the name of an order", name), "",
                 "it is a folder's name too: without '/', not beginning with '.', 100 bytes at most"};
  const auto kept = standing.orders.find(name);
  record::Order order = kept == standing.orders.end() ? record::Order{} : kept->second;
  order.name = name;
  if (Status filled = Fill(order, fields); !filled.ok()) return filled.error();
  return order;
}

bool Stands(const session::Standing& standing, const record::Order& order) {
  const auto kept = standing.orders.find(order.name);
  return kept != standing.orders.end() && session::Pack(kept->second) == session::Pack(order);
}

Result<record::Order> SayOrder(session::Session& session, const std::string& name,
                               const OrderFieldWords& fields) {
  Result<session::Standing> standing = StandingOf(session);
  if (!standing.ok()) return standing.error();
  Result<record::Order> order = OrderWith(*standing, name, fields);
  if (!order.ok() || Stands(*standing, *order)) return order;
  Status said =
      Say(session, {session::KeepOrder{*order, false}}, fmt::format("order {}: {}", name, Told(*order)));
  if (!said.ok()) return said.error();
  return order;
}

Result<OrderAnswer> Orders(const OrderRequest& request) {
  const bool changes = !request.name.empty();
  if (!changes && (request.drop || request.approve || !request.fields.empty()))
    return Error{ErrorCode::kInvalidArgument, "no order was named", "", "name it behind the session"};
  Result<std::unique_ptr<session::Session>> session =
      session::Session::Open(request.session, changes ? session::Access::kWrite : session::Access::kRead);
  if (!session.ok()) return session.error();
  OrderAnswer answer;
  if (request.drop) {
    Result<session::Standing> standing = StandingOf(**session);
    if (!standing.ok()) return standing.error();
    const auto kept = standing->orders.find(request.name);
    if (kept == standing->orders.end()) return NoSuchOrder(request.name);
    Status said = Say(**session, {session::KeepOrder{kept->second, true}},
                      fmt::format("order {} dropped", request.name));
    if (!said.ok()) return said.error();
  } else if (request.approve) {
    Result<int> approved = SayApproved(**session, request.name);
    if (!approved.ok()) return approved.error();
    answer.approved = *approved;
  } else if (changes) {
    Result<record::Order> said = SayOrder(**session, request.name, request.fields);
    if (!said.ok()) return said.error();
  }
  Result<session::Standing> standing = StandingOf(**session);
  if (!standing.ok()) return standing.error();
  for (const auto& [name, order] : standing->orders) {
    answer.orders.push_back(order);
    answer.told.push_back(Told(order));
  }
  return answer;
}

Result<CropAnswer> Crop(const CropRequest& request) {
  const auto wrong = [](const std::string& what, const std::string& todo) {
    return Error{ErrorCode::kInvalidArgument, what, "", todo};
  };
  const bool sets = request.quarter_turns || request.straighten_deg || request.cut;
  if (request.frames.empty()) return wrong("no frame was named", "name one or more");
  if (sets == request.as_taken)
    return wrong(sets ? "as taken leaves nothing else to be set" : "nothing is said of the framing",
                 "say how to turn, straighten or cut, or that it is as taken");
  Result<std::unique_ptr<session::Session>> session =
      session::Session::Open(request.session, session::Access::kWrite);
  if (!session.ok()) return session.error();
  Result<std::vector<record::Photo>> photos = (*session)->Photos();
  if (!photos.ok()) return photos.error();
  Result<session::Standing> standing = StandingOf(**session);
  if (!standing.ok()) return standing.error();
  std::vector<session::Word> words;
  for (const std::string& name : request.frames) {
    Result<PhotoId> frame = FindPhoto(*photos, record::Role::kFrame, name);
    if (!frame.ok()) return frame.error();
    record::Framing framing;
    if (!request.as_taken) {
      for (const record::Photo& photo : *photos)
        if (photo.id == *frame) framing = FramingOf(photo, *standing);
      record::Crop& crop = framing.crop;
      if (request.quarter_turns) framing.quarter_turns = *request.quarter_turns;
      if (request.straighten_deg) crop.angle_deg = *request.straighten_deg;
      if (request.cut) std::tie(crop.left, crop.top, crop.right, crop.bottom) = std::tuple_cat(*request.cut);
      if (!record::Sound(framing))
        return wrong(fmt::format("{} cannot be framed so", name),
                     "a cut lies within the picture and is at least 1 % wide and high; straightening goes "
                     "from -45 to 45 "
                     "degrees; turns are 0 to 3 quarters");
    }
    words.push_back(session::Frame{*frame, request.as_taken, framing});
  }
  Status said = Say(
      **session, words,
      fmt::format("{} {}", fmt::join(request.frames, ", "), request.as_taken ? "framed as taken" : "framed"));
  if (!said.ok()) return said.error();
  return CropAnswer{static_cast<int>(words.size())};
}

Result<std::vector<record::Order>> OrdersOf(session::Session& session, const DeliverOptions& options) {
  std::vector<record::Order> orders;
  if (options.orders.size() > 1 && !options.fields.empty())
    return Error{ErrorCode::kInvalidArgument, "several orders were named, and something said of one", "",
                 "say it with `samelight order` first, or name one order"};
  if (options.orders.empty()) {
    record::Order order;
    if (Status filled = Fill(order, options.fields); !filled.ok()) return filled.error();
    orders.push_back(std::move(order));
  } else if (!options.fields.empty()) {
    Result<record::Order> order = SayOrder(session, options.orders.front(), options.fields);
    if (!order.ok()) return order.error();
    orders.push_back(std::move(order).value());
  } else {
    Result<session::Standing> standing = StandingOf(session);
    if (!standing.ok()) return standing.error();
    for (const std::string& name : options.orders) {
      const auto kept = standing->orders.find(name);
      if (kept == standing->orders.end()) return NoSuchOrder(name);
      orders.push_back(kept->second);
    }
  }
  return orders;
}

Result<DeliverAnswer> DeliverOrders(session::Session& session, const fs::path& out,
                                    const std::vector<record::Order>& orders, const DeliverOptions& options,
                                    const Work& work) {
  DeliverAnswer sum;
  sum.out = out;
  std::vector<session::Problem> problems;
  std::optional<Error> stop;
  for (const record::Order& order : orders) {
    Result<DeliverAnswer> answer =
        DeliverAll(session, orders.size() > 1 ? out / order.name : out, order, options, problems, work);
    if (!answer.ok()) {
      stop = answer.error();
      break;
    }
    sum.frames += answer->frames;
    sum.scans += answer->scans;
    sum.written += answer->written;
    sum.kept += answer->kept;
    for (std::string& note : answer->notes)
      sum.notes.push_back(orders.size() > 1 ? order.name + ": " + note : std::move(note));
  }
  Result<session::Change> change = session.Begin();
  Status put =
      change.ok() ? change->ReplaceProblems(session::Stage::kDeliver, problems) : Status(change.error());
  if (put.ok()) put = change->Commit();
  if (stop) return *stop;
  if (!put.ok()) return put.error();
  sum.problems = Told(problems);
  return sum;
}

}  // namespace samelight::job
