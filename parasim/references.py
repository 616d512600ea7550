"""Every published source the program rests on, by key.

A docstring names its source as ``Source: [Barrows2002] eq. 12``; the key stands here. ``note`` says how far
the source was read: most entries were written down from memory, and no page or equation number is given that
was not seen.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

_MEMORY = "from memory, unverified"


@dataclass(frozen=True, slots=True, kw_only=True)
class Reference:
    """A published source.

    Parameters
    ----------
    authors, title, where : str
        As a bibliography prints them; ``where`` is the journal, report number or publisher.
    year : int
        Year of the edition meant.
    note : str
        What we use it for, and how far the entry was verified.
    """

    authors: str
    year: int
    title: str
    where: str
    note: str

    def __str__(self) -> str:
        """One line of a bibliography."""
        return f"{self.authors} ({self.year}). {self.title}. {self.where}. [{self.note}]"


REFERENCES: Mapping[str, Reference] = MappingProxyType(
    {
        "AbbottDoenhoff1959": Reference(
            authors="I. H. Abbott, A. E. von Doenhoff",
            year=1959,
            title="Theory of Wing Sections",
            where="Dover, New York",
            note=f"section outlines and measured sections; {_MEMORY}",
        ),
        "Barrows2002": Reference(
            authors="T. M. Barrows",
            year=2002,
            title="Apparent Mass of Parafoils with Spanwise Camber",
            where="Journal of Aircraft 39(3)",
            note="apparent mass of an arced wing, of which the thickness terms are used; formulas from notes "
            "on the paper, itself not seen",
        ),
        "Belloc2015": Reference(
            authors="H. Belloc",
            year=2015,
            title="Wind Tunnel Investigation of a Rigid Paraglider Reference Wing",
            where="Journal of Aircraft 52(2)",
            note="forces on a rigid arced wing; geometry from a secondary source, coefficients digitised "
            "from its figures; volume number from memory",
        ),
        "Birge1932": Reference(
            authors="R. T. Birge",
            year=1932,
            title="The Calculation of Errors by the Method of Least Squares",
            where="Physical Review 40",
            note=f"weighted means of measurements that differ by more than their errors; {_MEMORY}",
        ),
        "DenHartog1948": Reference(
            authors="J. P. Den Hartog",
            year=1948,
            title="Mechanics",
            where="McGraw-Hill, New York",
            note=f"friction of a line over a bend, after Euler and Eytelwein; {_MEMORY}",
        ),
        "DormandPrince1980": Reference(
            authors="J. R. Dormand, P. J. Prince",
            year=1980,
            title="A Family of Embedded Runge-Kutta Formulae",
            where="Journal of Computational and Applied Mathematics 6(1)",
            note="coefficients of the pair of orders 5 and 4; from memory, held against scipy's",
        ),
        "Glauert1926": Reference(
            authors="H. Glauert",
            year=1926,
            title="The Elements of Aerofoil and Airscrew Theory",
            where="Cambridge University Press",
            note=f"thin-aerofoil and lifting-line theory; {_MEMORY}",
        ),
        "HairerNorsettWanner1993": Reference(
            authors="E. Hairer, S. P. Nørsett, G. Wanner",
            year=1993,
            title="Solving Ordinary Differential Equations I",
            where="Springer, second edition",
            note=f"control of the step by this error and the last; {_MEMORY}",
        ),
        "Helmbold1942": Reference(
            authors="H. B. Helmbold",
            year=1942,
            title="Der unverwundene Ellipsenflügel als tragende Fläche",
            where="Jahrbuch 1942 der Deutschen Luftfahrtforschung",
            note=f"lift slope at low aspect ratio; {_MEMORY}",
        ),
        "Hoerner1965": Reference(
            authors="S. F. Hoerner",
            year=1965,
            title="Fluid-Dynamic Drag",
            where="published by the author",
            note=f"drag of cylinders, plates and bluff bodies; {_MEMORY}",
        ),
        "Huber1964": Reference(
            authors="P. J. Huber",
            year=1964,
            title="Robust Estimation of a Location Parameter",
            where="Annals of Mathematical Statistics 35(1)",
            note=f"loss that leaves a slip of the pen no more pull than a poor measurement; {_MEMORY}",
        ),
        "Hyndman1996": Reference(
            authors="R. J. Hyndman",
            year=1996,
            title="Computing and Graphing Highest Density Regions",
            where="The American Statistician 50(2)",
            note=f"regions of highest density, their level as a quantile of the density; {_MEMORY}",
        ),
        "ISO1144": Reference(
            authors="International Organization for Standardization",
            year=2016,
            title="Textiles: universal system for designating linear density (Tex System)",
            where="ISO 1144:2016",
            note=f"Thread by weight, tex being grams a kilometre; {_MEMORY}",
        ),
        "ISO2533": Reference(
            authors="International Organization for Standardization",
            year=1975,
            title="Standard Atmosphere",
            where="ISO 2533:1975",
            note="standard air below 11 km; constants from memory, checked against two libraries",
        ),
        "JacobsPinkerton1935": Reference(
            authors="E. N. Jacobs, R. M. Pinkerton, H. Greenberg",
            year=1935,
            title="Tests of Related Forward-Camber Airfoils in the Variable-Density Wind Tunnel",
            where="NACA Technical Report 537",
            note=f"camber line of the 230 sections; {_MEMORY}",
        ),
        "JacobsWardPinkerton1933": Reference(
            authors="E. N. Jacobs, K. E. Ward, R. M. Pinkerton",
            year=1933,
            title="The Characteristics of 78 Related Airfoil Sections from Tests in the Variable-Density "
            "Wind Tunnel",
            where="NACA Technical Report 460",
            note=f"outline of the four-digit sections; {_MEMORY}",
        ),
        "Johari2011": Reference(
            authors="H. Johari and others",
            year=2011,
            title="(title not seen)",
            where="AIAA Paper 2011-2553",
            note="share of the lines in the drag of published systems; second-hand, title unverified",
        ),
        "Kasa1976": Reference(
            authors="I. Kasa",
            year=1976,
            title="A Circle Fitting Procedure and Its Error Analysis",
            where="IEEE Transactions on Instrumentation and Measurement 25",
            note=f"circle by linear least squares, the start of the geometric fit; {_MEMORY}",
        ),
        "KatzPlotkin2001": Reference(
            authors="J. Katz, A. Plotkin",
            year=2001,
            title="Low-Speed Aerodynamics",
            where="2nd edition, Cambridge University Press",
            note=f"vortex segments, rings and lattices; {_MEMORY}",
        ),
        "Knacke1992": Reference(
            authors="T. W. Knacke",
            year=1992,
            title="Parachute Recovery Systems Design Manual",
            where="NWC TP 6575, Para Publishing, Santa Barbara",
            note="filling distance, nominal diameter, ballistic parameter, opening-force coefficient, "
            f"Pflanz's method, snatch force; {_MEMORY}",
        ),
        "Lamb1932": Reference(
            authors="H. Lamb",
            year=1932,
            title="Hydrodynamics",
            where="6th edition, Cambridge University Press",
            note=f"inertia of the fluid around plates, cylinders, ellipsoids; impulse of vortices; {_MEMORY}",
        ),
        "Lingard1995": Reference(
            authors="J. S. Lingard",
            year=1995,
            title="Ram-Air Parachute Design",
            where="Precision Aerial Delivery Seminar, 13th AIAA Aerodynamic Decelerator Systems Conference",
            note=f"estimates of lift and drag of ram-air canopies at low aspect ratio; {_MEMORY}",
        ),
        "LissamanBrown1993": Reference(
            authors="P. B. S. Lissaman, G. J. Brown",
            year=1993,
            title="Apparent Mass Effects on Parafoil Dynamics",
            where="AIAA Paper 93-1236",
            note=f"apparent mass in the equations of motion; {_MEMORY}",
        ),
        "Lomb1976": Reference(
            authors="N. R. Lomb",
            year=1976,
            title="Least-Squares Frequency Analysis of Unequally Spaced Data",
            where="Astrophysics and Space Science 39",
            note=f"periodogram that the swing of a payload is looked for in; {_MEMORY}",
        ),
        "MIL-F-8785C": Reference(
            authors="United States Department of Defense",
            year=1980,
            title="Military Specification: Flying Qualities of Piloted Airplanes",
            where="MIL-F-8785C, Washington",
            note=f"turbulence at low altitude, in Dryden's form, and discrete gust; formulas {_MEMORY}",
        ),
        "Prandtl1921": Reference(
            authors="L. Prandtl",
            year=1921,
            title="Applications of Modern Hydrodynamics to Aeronautics",
            where="NACA Technical Report 116",
            note=f"elliptic wing: lift slope and minimum induced drag; {_MEMORY}",
        ),
        "Scott2015": Reference(
            authors="D. W. Scott",
            year=2015,
            title="Multivariate Density Estimation",
            where="2nd edition, Wiley",
            note=f"width of the kernel of a density estimate; {_MEMORY}",
        ),
        "SharpeHansman2025": Reference(
            authors="P. D. Sharpe, R. J. Hansman",
            year=2025,
            title="NeuralFoil: An Airfoil Aerodynamics Analysis Tool Using Physics-Informed Machine Learning",
            where="arXiv 2503.16323",
            note=f"the network behind the shipped section tables (a library, run offline); {_MEMORY}",
        ),
        "SlegersCostello2003": Reference(
            authors="N. Slegers, M. Costello",
            year=2003,
            title="Aspects of Control for a Parafoil and Payload System",
            where="Journal of Guidance, Control, and Dynamics 26(6)",
            note=f"turning towards and away from a brake; {_MEMORY}",
        ),
        "Snyder1987": Reference(
            authors="J. P. Snyder",
            year=1987,
            title="Map Projections: A Working Manual",
            where="US Geological Survey, Professional Paper 1395",
            note=f"radii of curvature of the ellipsoid; {_MEMORY}",
        ),
        "SP811": Reference(
            authors="A. Thompson, B. N. Taylor",
            year=2008,
            title="Guide for the Use of the International System of Units",
            where="NIST Special Publication 811",
            note=f"conversion factors; {_MEMORY}",
        ),
        "Tarantola2005": Reference(
            authors="A. Tarantola",
            year=2005,
            title="Inverse Problem Theory and Methods for Model Parameter Estimation",
            where="SIAM, Philadelphia",
            note=f"numbers from measurements and prior, normal about the likeliest; {_MEMORY}",
        ),
        "Theodorsen1931": Reference(
            authors="T. Theodorsen",
            year=1931,
            title="Theory of Wing Sections of Arbitrary Shape",
            where="NACA Technical Report 411",
            note=f"moment and ideal lift of sections; {_MEMORY}",
        ),
        "Theodorsen1935": Reference(
            authors="T. Theodorsen",
            year=1935,
            title="General Theory of Aerodynamic Instability and the Mechanism of Flutter",
            where="NACA Technical Report 496",
            note=f"thin section with a plain flap; {_MEMORY}",
        ),
        "USSA1976": Reference(
            authors="NOAA, NASA, United States Air Force",
            year=1976,
            title="U.S. Standard Atmosphere, 1976",
            where="NOAA-S/T 76-1562, Washington",
            note="viscosity of air; constants from memory, checked against two libraries",
        ),
        "Vincenty1975": Reference(
            authors="T. Vincenty",
            year=1975,
            title="Direct and Inverse Solutions of Geodesics on the Ellipsoid with Application of Nested "
            "Equations",
            where="Survey Review 23(176)",
            note="geodesic from a point; formulas from memory, checked against a library",
        ),
        "WGS84": Reference(
            authors="National Imagery and Mapping Agency",
            year=2000,
            title="Department of Defense World Geodetic System 1984",
            where="Technical Report 8350.2, 3rd edition",
            note="semi-major axis and flattening; from memory, checked against a library",
        ),
        "Young1947": Reference(
            authors="A. D. Young",
            year=1947,
            title="The Aerodynamic Characteristics of Flaps",
            where="Aeronautical Research Council, R. & M. 2622",
            note=f"drag of plain flaps, used for deep brake; constants and entry {_MEMORY}",
        ),
    }
)
"""Sources by key, in alphabetical order."""
