// The figures of a run that are followed over many runs.
#include <algorithm>
#include <cmath>

#include "report/report.hpp"
#include "report/words.hpp"

namespace vacuary::report {
namespace {

class Figures {
 public:
  Figures(const plan::Plan& plan, const run::Account& account) : plan_(plan), account_(account) {}

  std::vector<RunFigure> all() {
    add_vacuum();
    add_film();
    for (const plan::Cathode& cathode : plan_.chamber.cathodes) add_target(cathode);
    return std::move(figures_);
  }

 private:
  void add(std::string name, double value, std::optional<double> u, std::string unit,
           std::string subject = "") {
    if (!std::isfinite(value) || (u && !std::isfinite(*u))) return;
    figures_.push_back({std::move(name), value, u, std::move(unit), std::move(subject)});
  }
  template <class Q>
  void add(std::string name, const Estimate<Q>& e, const Unit& unit) {
    add(std::move(name), in(e.value, unit), in(expanded(e), unit), unit.symbol);
  }

  void add_vacuum() {
    const run::VacuumHealth& v = account_.vacuum;
    if (v.base_pressure) add("base_pressure", *v.base_pressure, unit("mbar", Kind::pressure));
    if (v.time_to_base)
      add("pumpdown_time", in(*v.time_to_base, unit("h", Kind::duration)), std::nullopt, "h");
    if (v.rises.empty()) return;
    const Estimate<MolarFlow>& leak = v.rises.back().leak_at_most;
    const Temperature gas = plan_.chamber.gas_temperature.value;
    constexpr double mbar_l = 0.1;  // Pa m3
    add("leak_at_most", throughput(leak.value, gas).pa_m3_per_s() / mbar_l,
        2 * throughput(leak.standard_uncertainty, gas).pa_m3_per_s() / mbar_l, "mbar*L/s");
  }

  void add_film() {
    const run::Film& film = account_.film;
    if (film.parts.empty()) return;
    const Unit& kwh = unit("kWh", Kind::energy);
    const Unit& nm = unit("nm", Kind::length);
    double energy = 0, variance = 0;
    for (const run::FilmPart& part : film.parts) {
      energy += in(part.energy.value, kwh);
      const double u = in(part.energy.standard_uncertainty, kwh);
      variance += u * u;
    }
    add("film_energy", energy, 2 * std::sqrt(variance), kwh.symbol);
    if (!film.claimed) return;
    add("film_thickness", film.mean, nm);
    const double thickness = in(film.mean.value, nm);
    if (thickness > 0) add("energy_per_thickness", energy / thickness, std::nullopt, "kWh/nm");
  }

  // What the target had been given before, by the chamber file, and in every step of this run, behind the
  // shutter too. A step that the log does not show whole is missing here.
  void add_target(const plan::Cathode& cathode) {
    const Unit& kwh = unit("kWh", Kind::energy);
    double joule = 0;
    bool seen = false;
    for (const run::StepAccount& step : account_.steps) {
      for (const run::Figure& f : step.figures) {
        if (f.channel.what != plan::What::power || f.channel.device != cathode.supply.value) continue;
        joule += f.integral_si_s;
        seen = true;
      }
    }
    if (!seen) return;
    const Energy run = Energy::from_value(joule);
    double u = 0;
    if (const plan::Supply* supply = plan::supply(plan_.chamber, cathode.supply.value))
      u = 2 * in(run, kwh) * supply->power_accuracy.value.value();
    const std::string subject = "target " + cathode.target_serial.value;
    add("target_energy_used", in(cathode.energy_used.value, kwh) + in(run, kwh), u, kwh.symbol, subject);
    add("target_energy_rated", in(cathode.energy_rated.value, kwh), std::nullopt, kwh.symbol, subject);
  }

  const plan::Plan& plan_;
  const run::Account& account_;
  std::vector<RunFigure> figures_;
};

}  // namespace

std::vector<RunFigure> run_figures(const plan::Plan& plan, const run::Account& account) {
  return Figures(plan, account).all();
}

namespace {

// Values of one name are gathered in the order of the file, whatever stands between them.
class Means {
 public:
  void add(const std::string& name, double value, std::optional<double> u, const std::string& unit) {
    auto at = std::find_if(all_.begin(), all_.end(), [&](const One& one) { return one.figure.name == name; });
    if (at == all_.end()) at = all_.insert(all_.end(), One{RunFigure{name, 0, u, unit, ""}, {}});
    if (u) at->figure.expanded_uncertainty = std::max(*u, at->figure.expanded_uncertainty.value_or(0));
    at->values.push_back(value);
  }
  std::vector<RunFigure> figures() {
    std::vector<RunFigure> out;
    for (One& one : all_) {
      const auto n = static_cast<double>(one.values.size());
      for (const double v : one.values) one.figure.value += v / n;
      double squares = 0;
      for (const double v : one.values) squares += (v - one.figure.value) * (v - one.figure.value);
      if (one.figure.expanded_uncertainty && n > 1)
        one.figure.expanded_uncertainty =
            std::hypot(*one.figure.expanded_uncertainty, 2 * std::sqrt(squares / (n - 1) / n));
      out.push_back(std::move(one.figure));
    }
    return out;
  }

 private:
  struct One {
    RunFigure figure;
    std::vector<double> values;
  };
  std::vector<One> all_;
};

}  // namespace

std::vector<RunFigure> measured_figures(const plan::Measured& measured) {
  Means means;
  const Unit& nm = unit("nm", Kind::length);
  for (const plan::MeasuredReflectance& r : measured.reflectance) {
    means.add("reflectance_" + std::to_string(std::lround(in(r.wavelength.value, nm))) + "nm",
              r.value.value.value(), 2 * r.uncertainty.value.value(), "1");
  }
  for (const plan::MeasuredThickness& t : measured.thickness)
    means.add("measured_thickness", in(t.value.value, nm), 2 * in(t.uncertainty.value, nm), nm.symbol);
  for (const plan::MeasuredTape& t : measured.tape)
    means.add("tape_passed", t.result == plan::TapeResult::passed ? 1 : 0, std::nullopt, "1");
  return means.figures();
}

}  // namespace vacuary::report
