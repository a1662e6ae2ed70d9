import django.db.models.deletion
import planner.trail.fields
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('plans', '0003_accepted_plans'),
        ('practice', '0001_initial'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='PayerGuess',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=planner.trail.fields.new_public_id, editable=False, max_length=16, unique=True)),
                ('content', models.BinaryField()),
                ('sha256', models.CharField(max_length=64)),
                ('plan_sha256', models.CharField(max_length=64)),
                ('at', models.DateTimeField()),
                ('estimate', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='payer_guesses', to='plans.estimate')),
                ('made_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
            ],
            options={
                'ordering': ('estimate', '-id'),
                'constraints': [models.UniqueConstraint(fields=('estimate', 'sha256'), name='payer_guess_once')],
            },
        ),
        migrations.CreateModel(
            name='PayerPaid',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=planner.trail.fields.new_public_id, editable=False, max_length=16, unique=True)),
                ('option_key', models.CharField(max_length=200)),
                ('told', models.CharField(max_length=20)),
                ('guessed_cents', models.PositiveBigIntegerField()),
                ('paid_cents', models.PositiveBigIntegerField()),
                ('to_patient_cents', models.PositiveBigIntegerField()),
                ('signed_if_nothing', models.BooleanField()),
                ('reason', models.CharField(blank=True, max_length=500)),
                ('on', models.DateField()),
                ('at', models.DateTimeField()),
                ('entered_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('guess', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='paid', to='plans.payerguess')),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
            ],
            options={
                'ordering': ('guess', 'id'),
                'indexes': [models.Index(fields=['office', 'told'], name='payer_paid_by_basis')],
                'constraints': [models.CheckConstraint(condition=models.Q(('paid_cents__gte', models.F('guessed_cents')), models.Q(('reason', ''), _negated=True), _connector='OR'), name='less_has_reason'), models.CheckConstraint(condition=models.Q(('to_patient_cents', 0), ('signed_if_nothing', True), _connector='OR'), name='patient_pays_what_was_signed'), models.UniqueConstraint(fields=('guess', 'option_key'), name='payer_paid_once')],
            },
        ),
    ]
