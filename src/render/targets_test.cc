#include "render/targets_test.h"

#include <gtest/gtest.h>
#include <hwy/targets.h>

namespace samelight::render {

void OnEveryTarget(const std::function<void()>& body) {
  for (std::int64_t targets = hwy::SupportedTargets(); targets != 0; targets &= targets - 1) {
    const std::int64_t one = targets & -targets;
    hwy::SetSupportedTargetsForTest(one);
    hwy::GetChosenTarget().Update(hwy::SupportedTargets());
    SCOPED_TRACE(hwy::TargetName(one));
    body();
  }
  hwy::SetSupportedTargetsForTest(0);
  hwy::GetChosenTarget().Update(hwy::SupportedTargets());
}

}  // namespace samelight::render
