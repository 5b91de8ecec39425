#include "job/job.h"
#include "simulate/score.h"
#include "simulate/session.h"

namespace samelight::job {

Result<DemoAnswer> Demo(const DemoRequest& request, const Work& work) {
  simulate::SessionOptions options;
  options.seed = request.seed;
  options.photographs = simulate::FindPhotographs();
  Result<simulate::SessionSummary> summary =
      simulate::WriteSession(request.folder, options, work.progress, work.cancel);
  if (!summary.ok()) return summary.error();
  DemoAnswer answer;
  answer.film = request.folder / "film";
  answer.digital = request.folder / "digital";
  answer.truth = request.folder / "truth";
  answer.scans = summary->scans;
  answer.frames = summary->frames;
  if (summary->photographs == 0)
    answer.note = "there are no base photographs, so the scenes are painted; scripts/fetch-assets gets them";
  else if (summary->skipped > 0)
    answer.note = std::to_string(summary->skipped) +
                  " base photographs could not be read; painted scenes stand in for them";
  return answer;
}

Result<ScoreAnswer> ScoreDemo(const fs::path& demo, const fs::path& out, const Work& work) {
  Result<simulate::Score> score = simulate::ScoreRun(demo, out, work.cancel);
  if (!score.ok()) return score.error();
  return ScoreAnswer{simulate::TextOf(*score), simulate::JsonOf(*score)};
}

}  // namespace samelight::job
