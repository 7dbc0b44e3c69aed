// The tables of the optic file.
#include "plan/tables.hpp"

namespace vacuary::plan {
namespace {

const Section<Optic>& clear_area_section() {
  static const Section<Optic> section =
      Section<Optic>("the clear area", "The surface that gets the film.")
          .quantity(&Optic::inner_radius, "inner_radius", Need::required, domain::not_negative,
                    "of the clear area; zero when there is no hole")
          .quantity(&Optic::outer_radius, "outer_radius", Need::required, domain::positive,
                    "of the clear area")
          .quantity(&Optic::radius_of_curvature, "radius_of_curvature", Need::required, domain::any,
                    "at the vertex; positive: concave towards the cathode, negative: convex")
          .quantity(&Optic::conic_constant, "conic_constant", Need::optional, domain::any,
                    "0 a sphere, -1 a paraboloid")
          .otherwise("0 ratio")
          .check([](Optic& optic, const Node&, Reader& reader) {
            in_order(reader, optic.inner_radius, "inner_radius", optic.outer_radius, "outer_radius");
            if (stated(optic.radius_of_curvature) && optic.radius_of_curvature.value.value() == 0) {
              reader.complain("out-of-domain", optic.radius_of_curvature.at,
                              "'radius_of_curvature' must not be zero",
                              "for a flat state a very long one, such as \"1e6 m\"");
            }
          });
  return section;
}

const Section<Optic>& glass_section() {
  static const Section<Optic> section =
      Section<Optic>("the glass", "What the optic is made of, for heating and for what it may bear.")
          .text(&Optic::glass, "name", Need::required, "what it is called")
          .quantity(&Optic::glass_density, "density", Need::required, domain::positive, "mass per volume")
          .quantity(&Optic::conductivity, "conductivity", Need::required, domain::positive,
                    "thermal conductivity")
          .quantity(&Optic::heat_capacity, "heat_capacity", Need::required, domain::positive, "specific heat")
          .quantity(&Optic::allowed_difference, "allowed_difference", Need::required, domain::positive,
                    "largest temperature difference through the glass")
          .quantity(&Optic::face_thickness, "thickness", Need::required, domain::positive,
                    "of the whole blank, or of the face sheet")
          .flag(&Optic::face_sheet, "face_sheet", "true: a thin face sheet on a rib structure")
          .otherwise("false");
  return section;
}

const Section<Optic>& marks_section() {
  static const Section<Optic> section =
      Section<Optic>("the marks", "How a person finds an angle on the optic.")
          .text(&Optic::fiducial, "fiducial", Need::required, "where angle 0 is")
          .choice(&Optic::sense, "sense", Need::required,
                  {{"clockwise", "as a clock's hands go"}, {"counterclockwise", "against a clock's hands"}},
                  "in which marked angles grow, seen from the coated side");
  return section;
}

const Section<Film::Reflectance>& reflectance_section() {
  static const Section<Film::Reflectance> section =
      Section<Film::Reflectance>("a reflectance", "The reflectance wanted at one wavelength.")
          .quantity(&Film::Reflectance::wavelength, "wavelength", Need::required, domain::positive,
                    "wavelength in vacuum")
          .quantity(&Film::Reflectance::at_least, "at_least", Need::required, domain::positive_share,
                    "least reflectance at normal incidence");
  return section;
}

const Section<Film::Overcoat>& overcoat_section() {
  static const Section<Film::Overcoat> section =
      Section<Film::Overcoat>("an overcoat", "A clear layer over the metal.")
          .text(&Film::Overcoat::material, "material", Need::required,
                "what it is made of; constants are known of SiO2 and Si3N4")
          .quantity(&Film::Overcoat::thickness, "thickness", Need::required, domain::positive,
                    "how thick it is");
  return section;
}

const Section<Film>& film_section() {
  static const Section<Film> section =
      Section<Film>("the film", "The film wanted.")
          .text(&Film::material, "material", Need::required, "what it is made of")
          .quantity(&Film::thickness, "thickness", Need::required, domain::positive,
                    "mean over the clear area")
          .quantity(&Film::tolerance, "tolerance", Need::required, domain::positive,
                    "the mean must be thickness +/- this")
          .quantity(&Film::uniformity, "uniformity", domain::positive_share,
                    "largest (max - min)/(max + min) over the clear area")
          .quantity(&Film::density, "density", Need::required, domain::positive,
                    "mass per volume of the film")
          .tables(&Film::reflectance, "reflectance", Need::optional, reflectance_section(),
                  "reflectance wanted")
          .quantity(&Film::native_oxide, "native_oxide", domain::positive,
                    "oxide that grows on it in air before anyone measures; left out: clean metal")
          .quantity(&Film::roughness, "roughness", domain::positive,
                    "rms, in the band that scatters light; left out: smooth")
          .tables(&Film::overcoats, "overcoat", Need::optional, overcoat_section(),
                  "clear layers over the metal, from the metal outwards")
          .check([](Film& film, const Node&, Reader& reader) {
            in_order(reader, film.tolerance, "tolerance", film.thickness, "thickness");
          });
  return section;
}

}  // namespace

const Section<Optic>& optic_section() {
  static const Section<Optic> section =
      Section<Optic>("an optic file", "The optic and the film wanted on it.")
          .format()
          .text(&Optic::name, "name", Need::required, "what the plant calls it")
          .group("clear_area", Need::required, clear_area_section(), "the surface that gets the film")
          .group("glass", Need::required, glass_section(), "what it is made of")
          .group("marks", Need::required, marks_section(), "how a person finds an angle on it")
          .table(&Optic::film, "film", Need::required, film_section(), "the film wanted");
  return section;
}

}  // namespace vacuary::plan
