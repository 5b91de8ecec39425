#include "tests/fuzz/session_seeds.h"

#include <fmt/format.h>

#include "base/file.h"
#include "session/session.h"
#include "session/sqlite.h"

namespace samelight::fuzz {
namespace {

namespace fs = std::filesystem;
using session::Row;

bool MakeWhole(const fs::path& file) {
  auto session = session::Session::Open(file, session::Access::kCreate);
  if (!session.ok()) return false;
  auto change = (*session)->Begin();
  if (!change.ok()) return false;
  record::Roll roll;
  roll.name = "roll 1";
  bool put = change->Put(roll).ok();
  record::Photo scan, frame, gone;
  scan.role = record::Role::kScan;
  scan.path = "film/a.jpg";
  scan.roll = roll.id;
  scan.roll_position = 1;
  frame.path = "digital/b.jpg";
  frame.capture.body = "body";
  frame.crop = record::Crop{};
  gone.path = "digital/c.jpg";
  put = put && change->Put(scan).ok() && change->Put(frame).ok() && change->Put(gone).ok() &&
        change->SetGone(gone.id, true).ok();
  session::MeasuredEntry measured{"hash", {}};
  measured.measured.regions.resize(2);
  measured.measured.faces.resize(1);
  put = put && change->PutMeasured(frame.id, measured).ok();
  session::PairResult pairs;
  pairs.lights = {{LightId{1}, "mill", {frame.id}, {scan.id}, 190, 0}};
  pairs.pairs = {{scan.id, frame.id, record::PairKind::kMoment, 0.9, false, {{frame.id, {}, 0.1}}}};
  pairs.clocks = {{"body", 3600, 0.9}};
  pairs.scan_to_frame = {{scan.id, frame.id, 3}};
  pairs.scan_to_frame[0].cells.resize(2);
  pairs.frame_to_frame = pairs.scan_to_frame;
  pairs.notes = {{scan.id, "a light leak"}};
  record::FrameSolution solution;
  solution.frame = frame.id;
  solution.correction.unify.tone_in = {-3, 0};
  solution.correction.unify.tone_out = {-3, 0};
  solution.left_over.resize(2);
  solution.flags = {{record::FlagKind::kLeftOver, "a reason", "reason"}};
  put = put && change->ReplacePairs(pairs).ok() &&
        change->ReplaceMatch({{solution}, {{scan.id, 1.5, 0.5}}, {{RollId{1}, 2, 1.5}}, {"note"}}).ok() &&
        change->Put(session::Delivery{"out/b.jpg", frame.id, "web", "digest", true}).ok() &&
        change->ReplaceProblems(session::Stage::kStock, {{session::Stage::kStock, "set aside", {}}}).ok() &&
        change->SetMadeFrom(session::Stage::kPair, "digest").ok() &&
        change->Say({session::Join{scan.id, frame.id}, session::KeepOrder{}}, "said").ok() &&
        change->Say({session::Approve{"web", {frame.id}, {"digest"}}}, "approved").ok();
  return put && change->Commit().ok();
}

Result<std::unique_ptr<session::Database>> OpenPlain(const fs::path& file) {
  return session::Database::Open(file, SQLITE_OPEN_READWRITE);
}

std::vector<std::string> Texts(session::Database& database, const std::string& query) {
  auto rows =
      database.Rows<std::string>(query.c_str(), [](const Row& row) { return std::optional(row.Text(0)); });
  return rows.ok() ? std::move(rows).value() : std::vector<std::string>();
}

}  // namespace

std::vector<Bytes> SessionSeeds(const fs::path& folder) {
  const fs::path whole = folder / "whole.samelight", odd = folder / "odd.samelight";
  std::vector<Bytes> seeds;
  const auto add = [&seeds](const fs::path& file) {
    auto bytes = ReadFile(file, 1u << 24);
    if (bytes.ok()) seeds.push_back(std::move(bytes).value());
    return bytes.ok();
  };
  if (!MakeWhole(whole)) return {};
  {
    auto database = OpenPlain(whole);
    if (!database.ok() ||
        !(*database)->Script("PRAGMA journal_mode=DELETE; PRAGMA page_size=512; VACUUM").ok())
      return {};
  }
  if (!add(whole)) return {};
  constexpr const char* kValues[] = {"-1", "9223372036854775807", "'x'", "x''", "zeroblob(300)"};
  constexpr int kMostColumns = 13;
  for (int column = 0; column < kMostColumns; ++column)
    for (const char* value : kValues) {
      std::error_code ec;
      fs::copy_file(whole, odd, fs::copy_options::overwrite_existing, ec);
      auto database = OpenPlain(odd);
      if (ec || !database.ok()) return {};
      for (const std::string& table : Texts(
               **database, "SELECT name FROM sqlite_schema WHERE type='table' AND name NOT LIKE 'sqlite_%'"))
        for (const std::string& name :
             Texts(**database,
                   fmt::format("SELECT name FROM pragma_table_info('{}') WHERE cid={}", table, column)))
          // What the table does not take (an id that is no number) stays as it is.
          static_cast<void>(
              (*database)->Script(fmt::format("UPDATE OR IGNORE {} SET {}={}", table, name, value)));
      database = std::unique_ptr<session::Database>();
      if (!add(odd)) return {};
    }
  return seeds;
}

}  // namespace samelight::fuzz
