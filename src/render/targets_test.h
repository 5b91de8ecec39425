// Runs a test once for each vector target of this machine.
#pragma once

#include <gtest/gtest.h>
#include <hwy/targets.h>

namespace samelight::render {

template <class Body>
void OnEveryTarget(Body body) {
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
