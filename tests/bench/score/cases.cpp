#include "cases.hpp"

namespace score {

namespace {

using Sizes = std::vector<std::string>;

std::vector<Case> process_cases() {
  return {
      {"trip",
       {"trip:lasts=20s", "trip:lasts=5s", "trip:lasts=3s", "trip:lasts=2s", "trip:lasts=1s",
        "trip:lasts=0.5s"},
       1,
       {"power-interruption"}},
      {"arc-burst",
       {"arc-burst:rate=100Hz,loss=10%,noise=60V", "arc-burst:rate=40Hz", "arc-burst:rate=10Hz,lasts=30s",
        "arc-burst:rate=5Hz,loss=2%,noise=20V,lasts=10s", "arc-burst:rate=2Hz,loss=1%,noise=10V,lasts=10s"},
       1,
       {"arc-burst"}},
      {"wet-load",
       {"wet-load:holds=40min,factor=10", "wet-load:holds=15min,factor=5", "wet-load:holds=5min,factor=3",
        "wet-load:holds=3min,factor=2", "wet-load:holds=1min,factor=2"},
       1,
       {"wet-load"}},
      {"leak",
       {"leak:size=7e-2mbar L/s", "leak:size=2e-2mbar L/s", "leak:size=2e-3mbar L/s",
        "leak:size=1e-3mbar L/s", "leak:size=7e-4mbar L/s", "leak:size=5e-4mbar L/s",
        "leak:size=3e-4mbar L/s"},
       1,
       {"slow-leak"}},
      {"leak from the start",
       {"leak:at=0s,step=rough,grows=1s,size=2e-2mbar L/s",
        "leak:at=0s,step=rough,grows=1s,size=5e-3mbar L/s",
        "leak:at=0s,step=rough,grows=1s,size=2e-3mbar L/s",
        "leak:at=0s,step=rough,grows=1s,size=1e-3mbar L/s"},
       0,
       {"slow-leak"}},
      {"shaft-seal",
       {"shaft-seal:size=6mbar L/s", "shaft-seal", "shaft-seal:size=1mbar L/s", "shaft-seal:size=0.3mbar L/s",
        "shaft-seal:size=0.1mbar L/s", "shaft-seal:size=0.03mbar L/s"},
       1,
       {"shaft-seal"}},
      {"argon-sag",
       {"argon-sag:depth=60%,lasts=10min,at=60s", "argon-sag:depth=30%", "argon-sag:depth=10%,lasts=1min",
        "argon-sag:depth=5%,lasts=1min", "argon-sag:depth=3%,lasts=1min"},
       1,
       {"gas-sag", "gas-missing"}},
      {"glow out",  // an argon sag down to where the discharge goes out
       {"argon-sag:depth=80%,lasts=2min", "argon-sag:depth=72%,lasts=2min"},
       0,
       {"gas-sag", "gas-missing"}},
      {"unconditioned",
       {"unconditioned:below=150V,recovers=15min", "unconditioned:below=120V,recovers=15min",
        "unconditioned:below=100V,recovers=12min", "unconditioned:below=80V,recovers=12min",
        "unconditioned:below=80V,recovers=10min"},
       1,
       {"target-not-settled", "target-not-conditioned"}},
      {"water-weep",
       {"water-weep:below=150V", "water-weep:below=100V", "water-weep:below=60V", "water-weep:below=40V",
        "water-weep:below=30V"},
       1,
       {"target-wet"}},
      {"stall",
       {"stall:lasts=30s", "stall:lasts=10s", "stall:lasts=5s", "stall:lasts=3s", "stall:lasts=2s",
        "stall:lasts=1s"},
       1,
       {"rotation-stall"}},
      {"slip",
       {"slip:by=5deg", "slip:by=3deg", "slip:by=2deg", "slip:by=1deg", "slip:by=0.5deg"},
       1,
       {"rotation-slip"}},
      {"half-shutter",
       {"half-shutter:open=50%", "half-shutter:open=70%", "half-shutter:open=90%", "half-shutter:open=95%",
        "half-shutter:open=98%"},
       0,
       {"shutter-part-open"}},
      {"cryo-warm",
       {"cryo-warm:takes=10min,factor=5", "cryo-warm", "cryo-warm:factor=2,takes=30min",
        "cryo-warm:factor=1.5,takes=30min", "cryo-warm:factor=1.2,takes=30min",
        "cryo-warm:factor=1.05,takes=30min"},
       1,
       {"pump-warm"}},
  };
}

std::vector<Case> instrument_cases() {
  const auto frozen = [](const std::string& device) {
    Sizes sizes;
    for (const char* lasts : {"120s", "60s", "30s", "20s", "10s", "5s"}) {
      sizes.push_back("frozen:device=" + device + ",lasts=" + lasts);
    }
    return sizes;
  };
  return {
      {"gap", {"gap:lasts=60s", "gap:lasts=20s", "gap:lasts=5s", "gap:lasts=3s"}, 1, {"log-gap"}},
      {"clock-step",
       {"clock-step:by=3600s", "clock-step:by=3s", "clock-step:by=2s", "clock-step:by=1s"},
       2,
       {"clock-step"}},
      {"clock-hour", {"clock-step:by=3600s"}, 0, {"clock-step"}},
      {"clock-hour back", {"clock-step:by=-3600s"}, 0, {"clock-step"}},
      {"clock-back", {"clock-step:by=-3s", "clock-step:by=-2s", "clock-step:by=-1s"}, 1, {"clock-step"}},
      {"frozen gauge", frozen("manometer"), 1, {"frozen-channels"}},
      {"frozen supply", frozen("cathode-supply"), 1, {"frozen-channels"}},
      {"frozen flow", frozen("argon"), 1, {"frozen-channels"}},
      {"frozen optic", frozen("optic"), 1, {"frozen-channels"}},
      {"late-switch",
       {"late-switch:by=10s", "late-switch:by=5s", "late-switch:by=3s", "late-switch:by=2s",
        "late-switch:by=1s"},
       1,
       {"limit-switch-late"}},
      {"range-jump",
       {"range-jump:factor=10", "range-jump:factor=5", "range-jump:factor=3", "range-jump:factor=2",
        "range-jump:factor=1.5"},
       1,
       {"gauge-jump"}},
      {"zero-offset",
       {"zero-offset:by=0.03Pa", "zero-offset:by=0.02Pa", "zero-offset:by=0.01Pa", "zero-offset:by=0.005Pa",
        "zero-offset:by=0.002Pa"},
       1,
       {"gauge-zero"}},
      {"zero off from start",
       {"zero-offset:step=rough,at=0s,by=0.1Pa", "zero-offset:step=rough,at=0s,by=0.08Pa",
        "zero-offset:step=rough,at=0s,by=0.06Pa", "zero-offset:step=rough,at=0s,by=0.03Pa"},
       1,
       {"gauge-zero"}},
      {"splice-jump",
       {"splice-jump:factor=2.5", "splice-jump:factor=2", "splice-jump:factor=1.8", "splice-jump:factor=1.6"},
       1,
       {"gauges-disagree"}},
  };
}

}  // namespace

const std::vector<Case>& cases() {
  static const std::vector<Case> all = [] {
    std::vector<Case> list = process_cases();
    for (Case& one : instrument_cases()) {
      list.push_back(std::move(one));
    }
    return list;
  }();
  return all;
}

const std::vector<Together>& together() {
  static const std::vector<Together> all = {
      {"trip, sag, gap, leak",
       {"trip:at=200s,lasts=4s", "gap:at=330s,lasts=20s", "argon-sag:at=420s,lasts=90s,depth=25%",
        "leak:at=30min,size=1e-3mbar L/s,grows=20min"}},
      {"stall, arcs, clock", {"stall:at=120s", "arc-burst:at=300s,lasts=30s", "clock-step:at=500s,by=2s"}},
      {"wet, weep, slip", {"wet-load", "water-weep", "slip"}},
      {"jump, zero, frozen", {"range-jump", "zero-offset", "frozen:device=cathode-supply,at=300s,lasts=30s"}},
      {"two trips", {"trip:at=150s,lasts=3s", "trip:at=500s,lasts=6s"}},
  };
  return all;
}

const std::set<std::string>& rules_of(const std::string& fault) {
  static const std::set<std::string> none;
  for (const Case& one : cases()) {
    const std::string& first = one.sizes.front();
    if (first.substr(0, first.find(':')) == fault) {
      return one.rules;
    }
  }
  return none;
}

}  // namespace score
