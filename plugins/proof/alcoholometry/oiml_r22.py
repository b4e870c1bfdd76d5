"""The 54 coefficients of the density of ethanol-water mixtures, OIML R 22 (1975), as given there.

rho(p, t) = A1 + sum A_k p^(k-1) + sum B_k (t-20)^k + sum_i sum_k C_{i,k} p^k (t-20)^i
rho in kg/m3 in vacuo, p the mass fraction of ethanol, t in degC (IPTS-68), valid from -20 to +40 degC.

Where the digits come from: definition, range, the numbers of terms, A1..A4 and B1..B4 whole and A5 in part were
seen in the annex of Directive 76/766/EEC; the other digits in up to eight independent public transcriptions of
OIML R 22 that agree as far as each was seen. One digit is in doubt: C2,3 ends in 993 in most and in 933 in one,
which changes no density by 1e-9 kg/m3. The summation layout is from memory; tests/published confirms it.
"""

from __future__ import annotations

# A1..A12: powers 0..11 of p at 20 degC.
A = (
    9.982012300e2,
    -1.929769495e2,
    3.891238958e2,
    -1.668103923e3,
    1.352215441e4,
    -8.829278388e4,
    3.062874042e5,
    -6.138381234e5,
    7.470172998e5,
    -5.478461354e5,
    2.234460334e5,
    -3.903285426e4,
)
# B1..B6: powers 1..6 of (t - 20) for water.
B = (
    -2.0618513e-1,
    -5.2682542e-3,
    3.6130013e-5,
    -3.8957702e-7,
    7.1693540e-9,
    -9.9739231e-11,
)
# C[i-1][k-1] = C_{i,k}: p^k (t - 20)^i.
C = (
    (
        1.693443461530087e-1,
        -1.046914743455169e1,
        7.196353469546523e1,
        -7.047478054272792e2,
        3.924090430035045e3,
        -1.210164659068747e4,
        2.248646550400788e4,
        -2.605562982188164e4,
        1.852373922069467e4,
        -7.420201433430137e3,
        1.285617841998974e3,
    ),
    (
        -1.193013005057010e-2,
        2.517399633803461e-1,
        -2.170575700536993,
        1.353034988843029e1,
        -5.029988758547014e1,
        1.096355666577570e2,
        -1.422753946421155e2,
        1.080435942856230e2,
        -4.414153236817392e1,
        7.442971530188783,
    ),
    (
        -6.802995733503803e-4,
        1.876837790289664e-2,
        -2.002561813734156e-1,
        1.022992966719220,
        -2.895696483903638,
        4.810060584300675,
        -4.672147440794683,
        2.458043105903461,
        -5.411227621436812e-1,
    ),
    (
        4.075376675622027e-6,
        -8.763058573471110e-6,
        6.515031360099368e-6,
        -1.515784836987210e-6,
    ),
    (
        -2.788074354782409e-8,
        1.345612883493354e-8,
    ),
)
