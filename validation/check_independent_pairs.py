#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Is the truth of the pairs of views right? TAP output.

  closed forms   limbs laid by hand: circular arcs (chords, angles), straight limbs (foreshortening, inscribed circle of three strips),
                 a raised-cosine lesion of known least mean diameter on a tapering limb, chords through an elliptic cylinder
  drawn pairs    views as far apart as asked, limits kept; the moved limbs rendered in each view are as dark on the projected axis as
                 the chord through a round tube; clicks and image truth lie on the projected axis; headers carry the geometry
"""
import argparse
import json
import os
import sys
import tempfile

import numpy as np
import pydicom
from scipy import ndimage

import independent_pairs as pairs
import independent_phantom as ph

STEP, LIMBS = ph.STEP_MM, ph.LIMBS
WHERE = np.array([3.0, -2.0, 5.0])
count = failures = 0


def report(ok, what):
    global count, failures
    count += 1
    failures += not ok
    print(f"{'ok' if ok else 'not ok'} {count} - {what}", flush=True)


def limb(axis, radius, clicks_mm=(20.0, 22.0)):
    tube = ph.Tube(axis + WHERE, radius, np.ones(len(axis)))
    return {"tube": tube, "healthy": tube.radius.copy(), "clicks_mm": list(clicks_mm), "click_mm": clicks_mm[0], "lesion": None}


def straight(direction, radius, length=30.0):
    s = np.arange(0, length, STEP)
    return limb(s[:, None] * direction, np.full(len(s), radius))


def arc(start, toward, bend_mm, radius):
    """A quarter and more of a circle that leaves along `start` and turns toward `toward`."""
    s = np.arange(0, 30.0, STEP)
    a = s / bend_mm
    return limb(bend_mm * (np.outer(np.sin(a), start) + np.outer(1 - np.cos(a), toward)), np.full(len(s), radius))


def arcs():
    """The chord of an arc of length 8 leaves the tangent by 8 / (2 R) toward the centre."""
    x, y, z = np.eye(3)
    laid = {"proximal": arc(-x, z, 40.0, 1.5), "distal": arc(x, y, 25.0, 1.2), "side": arc(y, -z, 18.0, 1.0)}
    views = [ph.View(10.0, 5.0, 1000.0, 750.0, 0.2, 512), ph.View(48.0, 20.0, 1100.0, 750.0, 0.2, 512)]
    seen = [pairs.as_seen(laid, k, np.array([2.0, 1.0, -3.0]) * k, 1.0) for k in (0, 1)]
    t = pairs.truth_in_space(0, laid, WHERE, views, seen, np.array([2.0, 1.0, -3.0]))
    c = {n: np.cos(v) * a + np.sin(v) * b for n, a, b, v in (("proximal", -x, z, 4 / 40.0), ("distal", x, y, 4 / 25.0), ("side", y, -z, 4 / 18.0))}
    worst = max(abs(t["angles"][key] - np.degrees(np.arccos(c[a] @ c[b]))) for key, a, b in pairs.PAIRS)
    report(worst < 0.02, f"angles between chords of circular arcs (worst {worst:.4f} degrees)")
    far = max(abs(np.linalg.norm(pairs.chord(laid[n]["tube"], WHERE)) - 2 * r * np.sin(4 / r)) for n, r in (("proximal", 40.0), ("distal", 25.0), ("side", 18.0)))
    report(far < 1e-3, f"length of those chords (worst {far:.1e} mm)")
    d1, d2 = views[0].beam, views[1].beam
    cross = np.cross(d1, d2) / np.sin(np.radians(t["view_separation_deg"]))
    report(abs(t["shift_across_mm"] - cross @ [2.0, 1.0, -3.0]) < 1e-9, "shift along d1 x d2")


def strips():
    """Three strips of half width r at 120 degrees: the inscribed circle reaches the corners, r / sin 60."""
    turn = np.radians([90, 210, 330])
    laid = {n: straight(np.array([np.cos(a), np.sin(a), 0.0]), 1.4) for n, a in zip(LIMBS, turn)}
    radius, ostium = pairs.core_of(laid, WHERE)
    off = max(abs(v - 1.4 / np.sin(np.pi / 3)) for v in ostium.values())
    report(abs(radius - 1.4 / np.sin(np.pi / 3)) < 0.06 and off < 0.12,
           f"circle inside three strips: radius {radius:.3f}, closed form {1.4 / np.sin(np.pi / 3):.3f}; ostia off by {off:.3f} mm at most")
    view = ph.View(0.0, 0.0, 1000.0, 750.0, 0.2, 512)                   # looks along -y
    direction = np.array([np.cos(0.5), np.sin(0.5), 0.0])
    seen = straight(direction, 1.0)
    want = 100 * (1 - np.cos(0.5))
    got = pairs.short_pct(seen, view, False)
    report(abs(got - want) < 1e-6, f"foreshortening of a straight limb across the beam: {got:.3f} %, closed form {want:.3f}")
    p = WHERE + direction * np.array([0.0, 20.0])[:, None]
    fine = WHERE + direction * np.linspace(0, 20, 4001)[:-1, None]
    ray = (fine - view.source) / np.linalg.norm(fine - view.source, axis=1, keepdims=True)
    want = 100 * (1 - np.sqrt(1 - (ray @ direction) ** 2).mean())
    got = pairs.short_pct(seen, view, True)
    report(abs(got - want) < 0.01 and abs(np.linalg.norm(p[1] - p[0]) - 20) < 1e-9, f"and across the rays: {got:.3f} %, by quadrature {want:.3f}")


def ellipse():
    """A straight elliptic cylinder seen from around: chord and width by the support function, worked in the section."""
    worst = wide = 0.0
    for lean in (0.0, 0.4, 0.9, 1.5):
        laid = straight(np.array([0.0, 0.0, 1.0]), 1.2)
        laid["tube"].axis = laid["tube"].axis - WHERE - [0.0, 0.0, 15.0]
        tube = pairs.UnroundTube(laid["tube"], 1.9, lean)
        view = ph.View(20.0, 0.0, 1000.0, 750.0, 0.1, 128)
        got = ph.attenuation_of_union([tube], view, 4)[256]
        x = (np.arange(512) + 0.5) / 4 - 0.5
        rays = view.rays(x, np.full(512, (256 + 0.5) / 4 - 0.5))
        long = tube.long[0]
        frame = np.stack([long, np.cross(tube.tangent[0], long)])
        half = np.array([1.2 * np.sqrt(1.9), 1.2 / np.sqrt(1.9)])
        o, d = frame @ view.source / half, (rays @ frame.T) / half         # the unit circle
        a, b, c = (d * d).sum(axis=1), d @ o, o @ o - 1
        want = 2 * np.sqrt(np.maximum(b * b - a * c, 0)) / a
        worst = max(worst, np.abs(got - want).max())
        wide = max(wide, abs((got > 0).sum() - (want > 0).sum()))
    report(worst < 0.02 and wide <= 2, f"chords through an elliptic cylinder (worst {worst:.1e} mm, width {wide} of 512 sub-pixels)")
    minor, major = tube.minor_major()
    report(np.allclose(minor * major, 2.4 ** 2) and np.allclose(major / minor, 1.9), "same area, axis ratio as asked")


def lesion():
    """Least mean of a raised cosine over w: depth (1 - (1 + sin(pi w / L) / (pi w / L)) / 2) above the throat."""
    s = np.arange(0, 30.0, STEP)
    healthy = 1.5 - 0.004 * s
    shape = ph.lesion_shape(s, 8.0, 6.0, 0.0)
    laid = limb(np.outer(s, [1.0, 0.0, 0.0]), healthy * (1 - 0.6 * shape))
    laid["healthy"] = healthy
    t = pairs.segment_truth(laid, 2.0)
    z = np.pi * 0.5 / 6.0
    # lesion_shape is a product of two raised cosines; with half its length as shoulder each: one raised cosine of that length
    mean = 1 - 0.6 * 0.5 * (1 + np.sin(z) / z)
    want = 2 * (1.5 - 0.004 * 11.0) * mean
    report(abs(t["mld_mm"] - want) < 0.003 and abs(t["mld_position_mm"] - 11.0) < 0.15, f"MLD {t['mld_mm']:.4f} mm, closed form {want:.4f}, at {t['mld_position_mm']:.2f} (11)")
    place = t["mld_position_mm"]
    report(abs(t["reference_mm"] - 2 * (1.5 - 0.004 * place)) < 1e-3, "reference is the healthy lumen there")
    report(abs(t["area_stenosis_pct"] - 100 * (1 - mean ** 2)) < 0.3, f"area stenosis {t['area_stenosis_pct']:.2f}, closed form {100 * (1 - mean ** 2):.2f}")
    report(t["length_mm"] == 20.0, "a limb ends at the nearer click")


def drawn(options):
    asked = movement = dark_off = 0.0
    apart, steep = [], []
    for seed in range(4):
        _, views, limbs, where, _, shift, seen = pairs.draw(seed, options)
        apart.append(np.degrees(np.arccos(views[0].beam @ views[1].beam)))
        movement = max(movement, np.linalg.norm(shift))
        asked = max(asked, max(np.linalg.norm(seen[1][n]["tube"].axis[0] - where - shift) for n in LIMBS))
        for k in (0, 1):
            steep.append(max(pairs.short_pct(seen[k][n], views[k], True) for n in LIMBS))
            for n in LIMBS:
                tube = ph.Tube.__new__(ph.Tube)
                tube.__dict__.update(seen[k][n]["tube"].__dict__, mu=np.ones(len(seen[k][n]["tube"].radius)))
                dark = ph.attenuation_of_union([tube], views[k], 2)
                at = slice(300, int(seen[k][n]["click_mm"] / STEP), 25)
                px = views[k].project(limbs[n]["tube"].axis[at] + shift * k)
                ray = limbs[n]["tube"].axis[at] + shift * k - views[k].source
                sine = np.linalg.norm(np.cross(tube.tangent[at], ray / np.linalg.norm(ray, axis=1, keepdims=True)), axis=1)
                got = ndimage.map_coordinates(dark, ((px + 0.5) * 2 - 0.5)[:, ::-1].T, order=1)
                dark_off = max(dark_off, abs(np.median(got / (2 * tube.radius[at] / sine)) - 1))
    report(options.apart[0] <= min(apart) and max(apart) <= options.apart[1], f"views {min(apart):.1f} to {max(apart):.1f} degrees apart")
    report(asked < 1e-9 and movement <= options.shift[1], f"the anatomy of the second view lies where the shift says (up to {movement:.1f} mm)")
    report(max(steep) < 30.5, f"no limb shortened by more than 30 % (most {max(steep):.1f})")
    report(dark_off < 0.02, f"as dark on the projected axis as a round tube (median of a limb off by {100 * dark_off:.2f} % at most)")


def files():
    with tempfile.TemporaryDirectory() as folder:
        options = pairs.parse(["--seeds", "5", "--out", folder, "--flip-sign"])
        pairs.make(5, options)
        with open(os.path.join(folder, "seed0005.json"), encoding="ascii") as f:
            space = json.load(f)
        off_axis, off_click, header = 0.0, 0.0, True
        for k, letter in enumerate("ab"):
            with open(os.path.join(folder, f"seed0005{letter}.json"), encoding="ascii") as f:
                t = json.load(f)
            g = t["geometry"]
            view = ph.View(g["primary_deg"], g["secondary_deg"], g["sid_mm"], g["sod_mm"], g["imager_spacing_mm"][0], t["rows"])
            d = pydicom.dcmread(os.path.join(folder, f"seed0005{letter}.dcm"))
            sign = -1 if letter == "b" else 1
            header &= (float(d.PositionerPrimaryAngle) == sign * view.primary_deg and float(d.PositionerSecondaryAngle) == view.secondary_deg
                       and float(d.DistanceSourceToDetector) == view.sid_mm and float(d.DistanceSourceToPatient) == view.sod_mm)
            for n in LIMBS:
                s = space["segments"][n]
                px = view.project(np.array(s["points_mm"]) + np.array(space["shift_mm"]) * k)
                own = np.stack([t["segments"][n]["profile"]["x_px"], t["segments"][n]["profile"]["y_px"]], axis=1)
                fine = np.stack([np.interp(np.linspace(0, len(own) - 1, 20 * len(own)), np.arange(len(own)), own[:, i]) for i in (0, 1)], axis=1)
                inner = px[: int(min(s["clicks_mm"]) / 0.2)]
                off_axis = max(off_axis, np.linalg.norm(inner[:, None] - fine[None], axis=2).min(axis=1).max())
                click = [np.interp(s["clicks_mm"][k], s["position_mm"], px[:, i]) for i in (0, 1)]
                off_click = max(off_click, np.linalg.norm(np.array(t["clicks_px"][n]) - click))
        report(header, "headers carry the geometry, the second with the primary angle reversed when asked for")
        report(off_axis < 0.05, f"truth in the image is the projection of the truth in space (worst {off_axis:.3f} px)")
        report(off_click < 1.6, f"clicks lie within 1 px in x and y of their place (worst {off_click:.2f} px)")


def main():
    print("TAP version 13")
    arcs()
    strips()
    ellipse()
    lesion()
    drawn(argparse.Namespace(apart=(30.0, 50.0), shift=(0.0, 8.0), size=512, ostial_share=0.15, lesion_mm=ph.LESION_MM, elliptic=False))
    files()
    print(f"1..{count}")
    return failures > 0


if __name__ == "__main__":
    sys.exit(main())
