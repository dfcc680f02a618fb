"""Work of the equilibrium fuel-air cycle with nitrous oxide or water vapour in the charge, with Cantera.

usage: python make_additives.py > additives.csv

Same cycle, data and air as ../fuel_air/make_burned_gas.py: frozen isentropic compression, constant-volume burn to
equilibrium, shifting isentropic expansion. The fuel matches the oxygen of air and nitrous oxide together at the mixture
named; the water is vapour at the start of compression. Amounts are kg for each kg of dry air, work is J for each kg
of dry air.
"""
import cantera as ct
SP = {s.name: s for s in ct.Species.list_from_file("nasa_gas.yaml")}
BURNED = ["N2", "O2", "Ar", "CO2", "CO", "H2O", "H2", "OH", "H", "O", "N", "NO", "NO2", "N2O", "HO2", "CH4", "NH3"]
FUELS = {"isooctane": {"C8H18,isooctane": 1.0}, "trf": {"C8H18,isooctane": 0.50, "C7H8": 0.35, "C7H16,n-heptane": 0.15},
         "ethanol": {"C2H5OH": 1.0}}
GAS = ct.Solution(thermo="ideal-gas", species=[SP[n] for n in
                  ["C8H18,isooctane", "C7H8", "C7H16,n-heptane", "C2H5OH"] + BURNED])
AIR = {"O2": 0.2095, "N2": 0.7808, "Ar": 0.0093}
TOTAL = sum(AIR.values())
AIR = {k: x / TOTAL for k, x in AIR.items()}
M_AIR = sum(x * SP[k].molecular_weight for k, x in AIR.items())


def equilibrate(xy):
    for tolerance in (1e-11, 1e-10, 1e-9):
        try:
            GAS.equilibrate(xy, rtol=tolerance, max_steps=5000)
            return
        except ct.CanteraError:
            pass
    GAS.equilibrate(xy, solver="vcs", rtol=1e-9)


def work(fuel, ratio, lam, nitrous, water, t1=350.0, p1=1e5, residual=0.05):
    atoms = lambda e: sum(x * SP[k].composition.get(e, 0.0) for k, x in FUELS[fuel].items())
    demand = atoms("C") + atoms("H") / 4 - atoms("O") / 2
    kmol_nitrous = nitrous / SP["N2O"].molecular_weight
    oxygen = AIR["O2"] / M_AIR + 0.5 * kmol_nitrous
    kmol = {k: x / M_AIR for k, x in AIR.items()}
    kmol["N2O"] = kmol_nitrous
    kmol["H2O"] = water / SP["H2O"].molecular_weight
    for k, x in FUELS[fuel].items():
        kmol[k] = x * oxygen / (demand * lam)
    mass = sum(n * SP[k].molecular_weight for k, n in kmol.items())
    GAS.TPX = 300, 1e5, kmol
    fresh = GAS.Y.copy()
    GAS.TPY = 1500, 1e5, fresh
    equilibrate("TP")
    GAS.TPY = t1, p1, (1 - residual) * fresh + residual * GAS.Y
    s1, v1, u1 = GAS.entropy_mass, GAS.volume_mass, GAS.int_energy_mass
    GAS.SV = s1, v1 / ratio
    p2 = GAS.P
    equilibrate("UV")
    p3, t3, s3 = GAS.P, GAS.T, GAS.entropy_mass
    GAS.SV = s3, v1
    equilibrate("SV")
    return (u1 - GAS.int_energy_mass) * mass / (1 - residual), p2, p3, t3


if __name__ == "__main__":
    print("fuel,compression_ratio,lambda,nitrous,water,work_j_kg_air,p2_pa,p3_pa,t3_k")
    for fuel in FUELS:
        for ratio in (9.0, 11.0):
            for lam in (0.8, 0.88, 1.0):
                for nitrous, water in ((0, 0), (0.05, 0), (0.1, 0), (0.2, 0), (0, 0.01), (0, 0.02), (0, 0.04)):
                    row = work(fuel, ratio, lam, nitrous, water)
                    print(f"{fuel},{ratio:g},{lam:g},{nitrous:g},{water:g}," + ",".join(f"{x:.7g}" for x in row))
